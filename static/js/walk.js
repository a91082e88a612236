// On a round without signal: what this phone has noted counts as seen, and the next tree
// is the next that is not. With signal the page itself says so after every look.
import { gettext } from "./words.js";

// The trees that this phone has noted since the page was made, on this round, and those of
// which it has a photo without a word: they are still to be looked at.
export function notedHere(entries, news, { orchard, round, person, since }) {
  const noted = new Set();
  const photographed = new Set();
  for (const { kind, orchard: place, person: by, fields, made_at } of entries) {
    const mine = kind === "inspection" && place === orchard && by === person;
    if (mine && (String(fields.round ?? "") === round || made_at >= since)) (fields.photos_follow ? photographed : noted).add(fields.tree);
  }
  for (const one of news) {
    const mine = one.kind === "inspection" && one.orchard === orchard && one.person === person;
    if (mine && one.tree && Date.parse(one.at) >= Date.parse(since)) (one.photo_only ? photographed : noted).add(one.tree);
  }
  return { noted, photographed };
}

// The first tree in walking order that nobody has seen and this phone has not noted.
export const nextOf = (trees, noted) => trees.find((tree) => !noted.has(tree)) ?? null;

// The address of one tree made into that of another.
export const addressOf = (address, from, to) => (
  address.replace(`/${encodeURIComponent(from)}/`, `/${encodeURIComponent(to)}/`));

// Whose round a page is, and as of when.
function placeOf(page, walk) {
  const { person, orchard, renderedAt } = page.body.dataset;
  return { orchard, person: Number(person), round: walk.dataset.walk, since: new Date(renderedAt).toISOString() };
}

// How many trees a round has, and how many of them nobody has seen and this phone not noted.
export function progressOf(page, entries, news) {
  const walk = page.querySelector("[data-walk]");
  const { noted } = notedHere(entries, news, placeOf(page, walk));
  const out = [...walk.querySelectorAll("[data-out]")].filter((stop) => !noted.has(stop.dataset.out));
  return { all: walk.children.length, left: out.length };
}

export function tendWalk(page, { store, news }) {
  const walk = page.querySelector("[data-walk]");
  if (!walk) return;
  const here = placeOf(page, walk);

  async function show() {
    const [entries, told] = await Promise.all([store.list(), store.news()]).catch(() => [[], []]);
    const { noted, photographed } = notedHere(entries, told, here);
    const out = [...walk.querySelectorAll("[data-out]")];
    for (const stop of out) {
      const state = noted.has(stop.dataset.out) ? "here" : photographed.has(stop.dataset.out) ? "photo" : "";
      if (!state || stop.dataset.noted === state) continue;
      stop.dataset.noted = state;
      stop.querySelector(".entry-when").textContent = state === "here" ? gettext("noted on this phone") : gettext("photo only, on this phone");
    }
    const next = nextOf(out.map((stop) => stop.dataset.out), noted);
    const panels = page.querySelectorAll("[data-next]");
    for (const panel of panels) {
      if (next === null) panel.hidden = true;
      else if (panel.dataset.next !== next) turn(panel, panel.dataset.next, next);
    }
    const more = page.querySelector("[data-next-more]");
    const stop = out.find((one) => one.dataset.out === next);
    if (more && stop && more.dataset.nextMore !== next) {
      more.dataset.nextMore = next;
      const what = stop.querySelector(".entry-what").cloneNode(true);
      what.querySelectorAll(".on-paper").forEach((line) => line.remove());
      more.replaceChildren(what);
    }
    const done = page.querySelector("[data-walk-done]");
    if (done && panels.length) done.hidden = next !== null;
  }

  news.addEventListener("step", ({ detail }) => {
    if (["changed", "answered", "ended"].includes(detail.step)) show();
  });
  show();
}

// Let a part of the page speak of another tree: its words, addresses and forms.
function turn(panel, from, to) {
  panel.dataset.next = to;
  for (const one of panel.querySelectorAll("a, form, button")) {
    for (const name of ["href", "action"]) {
      const address = one.getAttribute(name);
      if (address) one.setAttribute(name, addressOf(address, from, to));
    }
    if (one.dataset.tree) one.dataset.tree = to;
    if (!one.children.length) one.textContent = one.textContent.replace(from, to);
  }
}

if (globalThis.document?.querySelector("[data-walk]") && document.body.dataset.person) {
  const wake = () => import("./outbox/start.js").then((outbox) => tendWalk(document, outbox));
  if (document.readyState === "complete") wake();
  else addEventListener("load", wake, { once: true });
}

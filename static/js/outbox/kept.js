// Pages kept for the day without signal: the worker keeps what is opened; this asks it to
// come, and brings the guide along in quiet moments.
import { gettext } from "../words.js";
import { make } from "../dom.js";

const WEEK = 7 * 24 * 3600_000;
const DAY = 24 * 3600_000;
const QUIET = 6000;
const MOST_WORK = 20;
// Forms for what is noted on the way, how to look at a tree, and the form for any tree.
const ALWAYS = [
  "waterings", "ripeness-tests", "harvests/new", "events", "first-day", "inspections/blank", "treatments", "treatments/wet", "treatments/new",
  "treatments/new/trunk_paint", "treatments/new/fertiliser",
];
// What carries the holds of an orchard is brought anew every day.
const HOLDS = /\/(treatments|harvests\/new)\/$/;

export async function keepPages(page, store) {
  const workers = navigator.serviceWorker;
  if (!workers) return;
  const first = !workers.controller;
  let registration;
  try {
    registration = await workers.register("/worker.js");
  } catch {
    return; // Without it the book still works, only not offline.
  }
  tellOfNewer(page, registration);
  const { active } = await workers.ready;
  // The first page came before the worker did: it is kept now.
  if (first) active.postMessage({ ask: "keep", urls: [location.href] });
  setTimeout(() => {
    keepForms(page, active).catch(() => {});
    keepGuide(page, store).catch(() => {});
  }, QUIET);
}

async function keepForms(page, worker) {
  const isDue = await isDayOver(page);
  const urls = await formsToKeep(page, isDue);
  if (urls.length) worker.postMessage({ ask: "keep", urls });
  const { orchard, person } = page.body.dataset;
  if (isDue) await keepTags(`/${orchard}/tags/codes/`, person);
}

// What is brought once a day is due again after signing out too, which forgets it all. The
// list of tags comes last of it and tells when.
export async function isDayOver(page, now = Date.now()) {
  const { orchard, person } = page.body.dataset;
  if (!orchard || savesData()) return false;
  const kept = await caches.match(`/${orchard}/tags/codes/`, { cacheName: `tags-${person}`, ignoreVary: true });
  return !kept || !(now - Date.parse(kept.headers.get("date")) < DAY);
}

const savesData = () => Boolean(globalThis.navigator?.connection?.saveData);

// Which tree each tag of an orchard is of.
export async function keepTags(url, person) {
  const answer = await fetch(url, { credentials: "same-origin" });
  if (!answer.ok || answer.redirected) return null;
  await (await caches.open(`tags-${person}`)).put(url, answer);
  return url;
}

function tellOfNewer(page, registration) {
  const tell = () => {
    const { waiting } = registration;
    const place = page.querySelector(".notices");
    if (!waiting || !place || !navigator.serviceWorker.controller) return;
    if (place.querySelector("[data-newer]")) return;
    const reload = make("button", { class: "button", type: "button" }, gettext("Reload"));
    const line = make("p", { role: "status" }, gettext("A new version of these pages is ready."));
    const notice = make("div", { class: "notice offline", "data-own": true, "data-newer": true }, line, reload);
    reload.addEventListener("click", () => {
      const { port1, port2 } = new MessageChannel();
      port1.onmessage = ({ data }) => {
        if (data === "taken over") location.reload();
        else line.textContent = gettext("A form is open and not saved. Save it first, then reload.");
      };
      waiting.postMessage({ ask: "take over" }, [port2]);
    });
    place.append(notice);
  };
  tell();
  registration.addEventListener("updatefound", () => {
    const { installing } = registration;
    installing?.addEventListener("statechange", () => {
      if (installing.state === "installed") tell();
    });
  });
}

// What this phone lacks of the pages that are needed where there is no signal: forms that
// close the work shown on this page, and once a day those of every orchard.
export async function formsToKeep(page, isDue) {
  const { orchard } = page.body.dataset;
  if (!orchard || savesData()) return [];
  const work = [...page.querySelectorAll(`a[href^="/${orchard}/tasks/"], a[href^="/${orchard}/treatments/"]`)]
    .map((link) => link.getAttribute("href").split(/[?#]/)[0])
    .filter((href) => /\/(closure|dry)\/$/.test(href));
  const urls = [...new Set(work)].slice(0, MOST_WORK);
  if (isDue) urls.push(...ALWAYS.map((form) => `/${orchard}/${form}/`));
  const missing = [];
  for (const url of urls) {
    const isOld = isDue && HOLDS.test(url);
    if (isOld || !await caches.match(url, { ignoreVary: true })) missing.push(url);
  }
  return missing;
}

// The whole guide, once a week: some hundred small pages, one after the other.
async function keepGuide(page, store) {
  const { orchard, person } = page.body.dataset;
  if (!orchard || savesData() || !navigator.serviceWorker.controller) return;
  const name = `guide ${person} ${orchard}`;
  const before = await store.recall(name);
  const kept = `guide-${person}`;
  // Signing out, or the system, may have taken the pages away meanwhile.
  if (before && Date.now() - before < WEEK && await caches.has(kept)) return;
  const start = `/${orchard}/guide/`;
  const cache = await caches.open(kept);
  const index = await keepOne(cache, start, person);
  if (!index) return;
  const links = [...new DOMParser().parseFromString(index, "text/html").querySelectorAll("a[href]")]
    .map((link) => link.getAttribute("href").split(/[?#]/)[0])
    .filter((href) => href.startsWith(start) && href !== start);
  for (const url of new Set(links)) {
    // A round that is taken along has the line to itself.
    while ("taking" in page.body.dataset) await new Promise((go) => { setTimeout(go, QUIET); });
    if (await keepOne(cache, url, person) === null) return;
  }
  await store.remember(name, Date.now());
}

// Keep one page, if it is really this person's: its text, or null.
export async function keepOne(cache, url, person, came = null) {
  const answer = came ?? await fetch(url, { credentials: "same-origin" });
  if (!answer.ok || answer.redirected) return null;
  const copy = answer.clone();
  const text = await answer.text();
  if (!text.includes(`data-person="${person}"`)) return null;
  await cache.put(url, copy);
  return text;
}

// The tray on every page: how much waits and since when, what is wrong, how fresh the
// page is, and what came of entries that arrived.
import { gettext } from "../words.js";
import { make, told } from "../dom.js";
import { csrfToken } from "../cookie.js";
import { isStale, sentences } from "./states.js";
import { LONGEST_WAY } from "./wire.js";

export function tendTray({ page, store, news, sender }) {
  const tray = page.getElementById("tray");
  if (!tray) return;
  const said = tray.querySelector("[role=status]");
  const state = { person: Number(page.body.dataset.person) || null, end: "", sending: null };
  const bar = make("progress", { max: 1, "aria-label": gettext("Photo on its way"), hidden: true });
  const send = make("button", { class: "button", type: "button", click: () => sender.nudge() }, gettext("Send now"));
  const link = make("a", { class: "button", href: "/outbox/" }, gettext("Outbox"));
  tray.append(bar, send, link);

  async function show() {
    let isSilent = false;
    const [entries, all, clock] = await Promise.all([
      store.list(), store.news(), store.recall("clock"),
    ]).catch((fault) => {
      isSilent = fault.late;
      return [[], [], 0];
    });
    const lines = isSilent
      ? [gettext("This phone's store does not answer now. Nothing in it is lost")]
      : sentences(entries, state);
    const { renderedAt } = page.body.dataset;
    const stale = renderedAt && isStale(renderedAt, performance.timeOrigin, clock || 0);
    if (stale) {
      lines.push(gettext("This page is as of %(time)s", { time: told(renderedAt) }));
      if (page.querySelector("[data-holds]")) import("./holds.js").then(({ tellHolds }) => tellHolds(page, renderedAt));
      page.querySelector(".notices")?.querySelectorAll(".notice:not([data-own])").forEach((one) => one.remove());
    }
    const text = lines.join(". ");
    if (said.textContent !== text) said.textContent = text;
    const waits = entries.some((entry) => entry.state === "waiting");
    const here = page.location.pathname === "/outbox/";
    send.hidden = here || !waits || Boolean(state.sending);
    link.hidden = here || !(entries.length || isSilent);
    tray.hidden = !text;
    tray.classList.toggle("needs-you", entries.some((entry) => entry.state === "refused"));
    tellNews(page, store, all.filter((one) => !one.seen && one.person === state.person));
    if (!isSilent) remembered(entries.length);
  }

  news.addEventListener("step", ({ detail }) => {
    if (detail.step === "greeted") state.person = detail.greeting.person;
    if (detail.step === "sending") state.sending = detail.entry;
    if (detail.step === "moved") bar.value = detail.share;
    if (detail.step === "answered" || detail.step === "ended") state.sending = null;
    if (detail.step === "ended") {
      state.end = detail.end;
      if (detail.greeting) state.person = detail.greeting.person;
      // What a page shows of the book may show it now.
      if (detail.sent) page.dispatchEvent(new Event("outbox-sent"));
    }
    bar.hidden = state.sending?.kind !== "photo";
    if (detail.step !== "moved") show();
    else bar.setAttribute("aria-valuetext", `${Math.round(detail.share * 100)} %`);
  });
  show();
}

// On the page that comes after: what was saved on the one before.
export async function tellSaved(page, store) {
  const saved = await store.recall("saved").catch(() => null);
  if (!saved) return;
  store.remember("saved", null).catch(() => {});
  const place = page.querySelector(".notices");
  if (!place || Date.now() - saved.at > LONGEST_WAY) return;
  place.append(make("div", { class: "notice done", "data-own": true, "data-saved": true, role: "status" }, make("p", {}, saved.text)));
}

// Tell once what the phone could not know, and offer to take a clean look back.
function tellNews(page, store, unseen) {
  const place = page.querySelector(".notices");
  if (!place || "saving" in page.body.dataset) return;
  for (const one of unseen) {
    if (!one.notices.length && !one.all_well) continue;
    if (place.querySelector(`[data-news="${one.key}"]`)) continue;
    const notice = make(
      "div",
      { class: `notice ${one.notices.length ? "refused" : "done"}`, "data-own": true, "data-news": one.key },
      make("p", {}, make("b", {}, gettext("Saved: %(title)s.", { title: one.title })), " ", one.notices.join(" ")),
      one.all_well ? undo(one) : make("a", { class: "button", href: one.url }, gettext("Read it")),
    );
    place.append(notice);
    if (!one.notices.length) store.seen(one.key).catch(() => {});
    else {
      notice.append(make("button", {
        class: "button", type: "button", click: () => { store.seen(one.key); notice.remove(); },
      }, gettext("Understood")));
    }
  }
}

function undo(one) {
  return make(
    "form",
    {
      method: "post",
      action: `${one.url}withdrawal/?undo=1`,
      "data-outbox": "withdrawal",
      "data-inspection": one.key,
      "data-title": gettext("Withdrawn: %(title)s", { title: one.title }),
    },
    make("input", { type: "hidden", name: "csrfmiddlewaretoken", value: csrfToken() }),
    make("button", { class: "button" }, gettext("Undo")),
  );
}

// The sign-in page asks this before it loads the outbox.
function remembered(count) {
  try {
    if (count) localStorage.setItem("orchard-outbox", "holds");
    else localStorage.removeItem("orchard-outbox");
  } catch { /* no such store: the page asks the outbox itself */ }
}

// Wires the outbox: the store, the sender, the tray and the forms of this page.
import { learnWords } from "../words.js";
import { openOutbox } from "./store.js";
import { makeSender } from "./send.js";
import { tellSaved, tendTray } from "./tray.js";
import { keepPages } from "./kept.js";

export const store = openOutbox();
const channel = "BroadcastChannel" in globalThis ? new BroadcastChannel("orchard-outbox") : null;

// What happens while sending, told to this page and, in short, to the other tabs.
export const news = new EventTarget();
function tell(step) {
  news.dispatchEvent(new CustomEvent("step", { detail: step }));
  if (["answered", "ended", "changed", "moved"].includes(step.step)) channel?.postMessage(step.step);
  if (step.step === "greeted") {
    const clock = Date.now() - Date.parse(step.greeting.server_time);
    store.remember("clock", clock).catch(() => {});
    const { person, person_name } = step.greeting;
    store.remember("signed in", { person, person_name }).catch(() => {});
  }
}
channel?.addEventListener("message", ({ data }) => {
  if (data === "answered" || data === "moved") sender.hear();
  if (data === "moved") return;
  news.dispatchEvent(new CustomEvent("step", { detail: { step: "changed" } }));
});

export const sender = makeSender({ store, told: tell });
export const changed = () => tell({ step: "changed" });
let keeper = null;

// Without what keeps a form, the form goes the ordinary way.
async function keeping() {
  const { makeKeeper } = await import("./form.js");
  keeper ??= makeKeeper({ page: document, store, sender, changed });
  return keeper;
}
export async function keep(form, way) {
  const here = await keeping();
  here.keep(form, way);
}

// What was begun on another page is offered on each.
function mayHaveBegun() {
  try {
    return localStorage.getItem("orchard-drafts") !== null;
  } catch {
    return true;
  }
}

function nudge() {
  if (document.visibilityState === "visible") sender.nudge();
}

// Where the browser has it, it wakes a page behind the screen once there is signal.
function askForWaking() {
  navigator.serviceWorker?.ready.then(({ sync }) => sync?.register("outbox")).catch(() => {});
}
news.addEventListener("step", ({ detail }) => {
  if (detail.step === "ended" && detail.end === "offline") askForWaking();
});
navigator.serviceWorker?.addEventListener("message", ({ data }) => {
  if (data?.ask === "send") sender.nudge();
});

await learnWords(document.documentElement.lang);
tendTray({ page: document, store, news, sender });
tellSaved(document, store);
if (document.querySelector("form[data-outbox]") || mayHaveBegun()) keeping().then((here) => here.tend());
addEventListener("online", nudge);
document.addEventListener("visibilitychange", nudge);
// A page that the browser puts aside for "Back" would hold the store against all others.
addEventListener("pagehide", () => {
  store.close();
  keeper?.leave();
});
addEventListener("pageshow", (shown) => {
  if (!shown.persisted) return;
  changed();
  nudge();
});
nudge();
if (document.body.dataset.person) keepPages(document, store);

// A look that was begun and not saved is offered again: after a closed tab, a full memory,
// "Back", and when another tree was chosen meanwhile. Only to whoever had begun it.
import { gettext } from "../words.js";
import { make, told } from "../dom.js";
import { saidBy } from "./entries.js";
import { restore } from "./mend.js";
import { made, takenAt } from "../photo.js";

// So long the hand that writes rests before it is kept.
const REST = 250;
// Every form says these, whether or not anybody has given an answer.
const BY_ITSELF = new Set(["units", "edition", "round"]);
const MOST_OFFERED = 3;

export const isGiven = (said) => said.some(([name]) => !BY_ITSELF.has(name) && !name.endsWith(":shown"));

// What a file is kept as; one without a byte holds nothing.
async function pictureOf(file) {
  const taken_at = await takenAt(file);
  const { bytes, type } = await made(file);
  return { name: file.name || "photo", type, taken_at, bytes };
}

const fileOf = ({ bytes, name, type, taken_at }) => new File([bytes], name, {
  type, lastModified: taken_at ? Date.parse(taken_at) : 0,
});

export function makeBegun({ page, drafts, store, recordOf }) {
  const { person, orchard } = page.body.dataset;
  const isOver = new WeakSet();
  let isToldFull = false;
  const aboutOf = (form) => ({
    key: recordOf(form).key,
    person,
    orchard,
    tree: form.dataset.tree,
    round: form.elements.round?.value ?? "",
    began_at: recordOf(form).began_at,
  });

  function failed(form, fault) {
    if (!fault.full || isToldFull) return;
    isToldFull = true;
    const words = gettext("This phone has no room to keep what you note before it is saved. Save soon.");
    form.before(make("div", { class: "notice caution", "data-own": true, role: "status" }, make("p", {}, words)));
  }

  // Keep what is on a form as it is given.
  function follow(form) {
    let timer = null;
    const keepSaid = () => {
      clearTimeout(timer);
      timer = null;
      const said = saidBy(form);
      if (!isOver.has(form) && isGiven(said)) drafts.say(aboutOf(form), said).catch((fault) => failed(form, fault));
    };
    form.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(keepSaid, REST);
    });
    form.addEventListener("change", async ({ target }) => {
      keepSaid();
      if (target.type !== "file") return;
      const files = [];
      for (const file of target.files) {
        if (file.size) files.push(await pictureOf(file).catch(() => null));
      }
      if (!isOver.has(form)) drafts.show(aboutOf(form), target.name, files.filter(Boolean)).catch((fault) => failed(form, fault));
    });
    // The system may take a page that nobody looks at, and says nothing before.
    page.addEventListener("visibilitychange", () => { if (timer) keepSaid(); });
  }

  // Saved: nothing of it is to be offered again.
  async function end(form) {
    isOver.add(form);
    await drafts.remove(recordOf(form).key).catch(() => {});
  }

  async function goOn(form, draft) {
    recordOf(form, { key: draft.key, began_at: draft.began_at, moment: draft.began_at });
    const words = gettext("It counts as seen at %(time)s, unless you give another day.", { time: told(draft.began_at) });
    form.before(make("div", { class: "notice offline", "data-own": true, "data-resumed": true, role: "status" }, make("p", {}, words)));
    restore(form, draft.said);
    const pictures = await drafts.picturesOf(draft).catch(() => []);
    for (const field of new Set(pictures.map((one) => one.field))) {
      place(form, field, pictures.filter((one) => one.field === field && one.bytes).map(fileOf));
    }
  }

  // The field of a sign's photo comes when its questions do.
  function place(form, name, files) {
    const put = () => {
      const field = form.querySelector(`input[type="file"][name="${CSS.escape(name)}"]`);
      if (!field) return false;
      const carrier = new DataTransfer();
      for (const file of files) carrier.items.add(file);
      field.files = carrier.files;
      field.dispatchEvent(new Event("change", { bubbles: true }));
      return true;
    };
    if (put()) return;
    const watcher = new MutationObserver(() => { if (put()) watcher.disconnect(); });
    watcher.observe(form, { childList: true, subtree: true });
  }

  // Those that are still to be saved: one that was saved while its tab died is over.
  async function open() {
    const here = await store.recall("signed in").catch(() => null);
    if (!person || (here && String(here.person) !== person)) return [];
    const begun = await drafts.list({ person, orchard }).catch(() => []);
    const gone = new Set([...await store.list(), ...await store.news()].map((one) => one.key));
    const [over, left] = [begun.filter(({ key }) => gone.has(key)), begun.filter(({ key }) => !gone.has(key))];
    for (const { key } of over) drafts.remove(key).catch(() => {});
    return left;
  }

  const addressOf = ({ key, tree, round }) => `/${orchard}/trees/${encodeURIComponent(tree)}/inspections/new/?begun=${key}${round ? `&round=${encodeURIComponent(round)}` : ""}`;

  function offer(draft, form) {
    const words = gettext("You had begun a look at %(tree)s at %(time)s.", { tree: draft.tree, time: told(draft.began_at) });
    const notice = make("div", { class: "notice offline", "data-own": true, "data-begun": draft.key }, make("p", {}, make("b", {}, words)));
    const away = make("button", {
      class: "button plain",
      type: "button",
      click: () => {
        drafts.remove(draft.key).catch(() => {});
        notice.remove();
      },
    }, gettext("Throw it away"));
    const on = form
      ? make("button", {
        class: "button",
        type: "button",
        click: () => {
          notice.remove();
          goOn(form, draft);
        },
      }, gettext("Go on with it"))
      : make("a", { class: "button", href: addressOf(draft) }, gettext("Go on with it"));
    notice.append(make("div", { class: "deeds" }, on, away));
    if (form) form.before(notice);
    else page.querySelector(".notices")?.append(notice);
  }

  // Follow the form of this page, and offer what was begun here or elsewhere.
  async function tend(form) {
    const wanted = new URLSearchParams(page.location.search).get("begun");
    const left = await open().catch(() => []);
    const resumed = form && left.find(({ key, tree }) => key === wanted && tree === form.dataset.tree);
    if (resumed) await goOn(form, resumed);
    if (form) follow(form);
    for (const draft of left.filter((one) => one !== resumed).slice(0, MOST_OFFERED)) {
      offer(draft, form && draft.tree === form.dataset.tree ? form : null);
    }
  }

  return { tend, end };
}

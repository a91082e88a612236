// A look that was begun and not saved is offered again: after a closed tab, a full memory,
// "Back", and when another tree was chosen meanwhile. Only to whoever had begun it.
import { gettext, ngettext } from "../words.js";
import { make, told } from "../dom.js";
import { keepPhotos, nameKey, photoKey, recordedBy, saidBy, signOf } from "./entries.js";
import { restore } from "./mend.js";
import { made, takenAt } from "./photo.js";

// So long the hand that writes rests before it is kept.
const REST = 250;
// Every form says these, whether or not anybody has given an answer.
const BY_ITSELF = new Set(["units", "edition", "round"]);
// The page itself leads: of what is offered beside it one is seen at once.
const MOST_OFFERED = 1;
// So often it is asked, and so many milliseconds apart, who has signed in.
const MOST_ASKED = 12;
const ASK_EVERY = 250;

export const isGiven = (said) => said.some(([name]) => !BY_ITSELF.has(name) && !name.endsWith(":shown"));

// What a file is kept as; one without a byte holds nothing.
async function pictureOf(file) {
  const taken_at = await takenAt(file);
  const { bytes, type } = await made(file);
  return { name: file.name || "photo", type, taken_at, photo: photoKey(file), bytes };
}

function fileOf({ bytes, name, type, taken_at, photo }) {
  const file = new File([bytes], name, { type, lastModified: taken_at ? Date.parse(taken_at) : 0 });
  if (photo) nameKey(file, photo);
  return file;
}

export function makeBegun({ page, drafts, store, recordOf, sendOn }) {
  const { person, orchard } = page.body.dataset;
  const isOver = new WeakSet();
  const holder = crypto.randomUUID();
  let isTold = false;
  const aboutOf = (form) => ({
    key: recordOf(form).key,
    holder,
    person,
    orchard,
    tree: form.dataset.tree,
    round: form.elements.round?.value ?? "",
    began_at: recordOf(form).began_at,
  });

  // Keep a change of a draft, or say once why what is given stands on this page alone.
  async function noted(form, keeping) {
    let words = "";
    try {
      if (!await keeping) words = gettext("This look is open on another page too, and kept as it stands there. What you note here is kept when you save.");
    } catch (fault) {
      if (fault.full) words = gettext("This phone has no room to keep what you note before it is saved. Save soon.");
    }
    if (!words || isTold) return;
    isTold = true;
    form.before(make("div", { class: "notice caution", "data-own": true, role: "status" }, make("p", {}, words)));
  }

  // Keep what is on a form as it is given.
  function follow(form) {
    let timer = null;
    const keepSaid = () => {
      clearTimeout(timer);
      timer = null;
      const said = saidBy(form);
      if (!isOver.has(form) && isGiven(said)) noted(form, drafts.say(aboutOf(form), said));
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
      if (!isOver.has(form)) noted(form, drafts.show(aboutOf(form), target.name, files.filter(Boolean)));
    });
    // The system may take a page that nobody looks at, and says nothing before.
    page.addEventListener("visibilitychange", () => { if (timer) keepSaid(); });
  }

  // Nothing of it is to be kept or offered any more.
  async function forget(form) {
    isOver.add(form);
    await drafts.remove(recordOf(form).key).catch(() => {});
  }

  // Saved with the photos that stand on the form; others of it are kept now.
  async function end(form) {
    isOver.add(form);
    const { key } = recordOf(form);
    const draft = (await list()).find((one) => one.key === key);
    if (draft) await finish(draft, await keysInStore()).catch(() => {});
  }

  // A photo of it is kept: there is no need of a copy.
  const isSafe = (key, file) => drafts.take(key, photoKey(file)).catch(() => {});

  // Try once more to save what found no room, without the copies of pictures that stand on
  // the form itself.
  async function without(key, photo, work) {
    const taken = await drafts.take(key, photo).catch(() => []);
    let left = taken;
    try {
      const result = await work();
      // The photo itself is kept now; the copies of others are still wanted.
      left = taken.filter((one) => one.photo !== photo);
      return result;
    } finally {
      if (left.length) await drafts.giveBack(key, left).catch(() => {});
    }
  }

  async function goOn(form, draft) {
    recordOf(form, { key: draft.key, began_at: draft.began_at, moment: draft.began_at });
    await drafts.hold(draft.key, holder).catch(() => {});
    // The round is the one in the address.
    restore(form, draft.said.filter(([name]) => name !== "round"));
    const pictures = (await drafts.picturesOf(draft).catch(() => [])).filter(({ bytes }) => bytes);
    const words = [
      gettext("It counts as seen at %(time)s, unless you give another day.", { time: told(draft.began_at) }),
      pictures.length ? ngettext("%(number)s photo taken then goes with it.", "%(number)s photos taken then go with it.", pictures.length) : "",
    ].filter(Boolean).join(" ");
    form.before(make("div", { class: "notice offline", "data-own": true, "data-resumed": true, role: "status" }, make("p", {}, words)));
    for (const field of new Set(pictures.map((one) => one.field))) {
      place(form, field, pictures.filter((one) => one.field === field));
    }
  }

  // The field of a sign's photo comes when its questions do. What finds no place on the form
  // is kept from the draft when the look is saved.
  function place(form, name, pictures) {
    if (!("DataTransfer" in globalThis)) return;
    const put = () => {
      const field = form.querySelector(`input[type="file"][name="${CSS.escape(name)}"]`);
      if (!field) return false;
      const carrier = new DataTransfer();
      for (const one of pictures) carrier.items.add(fileOf(one));
      field.files = carrier.files;
      // An engine may have made others of them.
      pictures.forEach(({ photo }, n) => { if (photo) nameKey(field.files[n], photo); });
      field.dispatchEvent(new Event("change", { bubbles: true }));
      return true;
    };
    if (put()) return;
    const watcher = new MutationObserver(() => { if (put()) watcher.disconnect(); });
    watcher.observe(form, { childList: true, subtree: true });
  }

  const list = () => drafts.list({ person, orchard }).catch(() => []);
  const keysInStore = async () => new Set([...await store.list(), ...await store.news()].map((one) => one.key));

  // Whether the person of this page holds the phone. Who has just signed in is known once
  // the server has greeted the page.
  async function isHere() {
    for (let left = MOST_ASKED; ; left -= 1) {
      const here = await store.recall("signed in").catch(() => null);
      if (!here || String(here.person) === person) return true;
      if (!left || !globalThis.navigator?.onLine) return false;
      await new Promise((go) => { setTimeout(go, ASK_EVERY); });
    }
  }

  // Those that are still to be saved. One that was saved while its tab died is over, once its
  // photos are kept too.
  async function open() {
    if (!person || !await isHere()) return [];
    const begun = await list();
    const there = await keysInStore();
    for (const draft of begun.filter(({ key }) => there.has(key))) {
      await finish(draft, there).catch(() => {});
    }
    return begun.filter(({ key }) => !there.has(key));
  }

  // The record of a draft is kept: what the draft still holds are photos of it. A sign that
  // the record does not name has none.
  async function finish(draft, there) {
    const named = new Set(draft.said.filter(([name]) => name === "sign").map(([, value]) => value));
    const pictures = (await drafts.picturesOf(draft)).filter(({ bytes, photo }) => bytes && !there.has(photo));
    const files = pictures.map((one) => ({
      file: fileOf(one), sign: named.has(signOf(one.field)) ? signOf(one.field) : "",
    }));
    const lacking = await keepPhotos(files, {
      store,
      kept: new Set(),
      about: { parent: draft.key, by: recordedBy(page.body, draft.began_at), round: draft.round, of: draft.tree },
      safe: (file) => isSafe(draft.key, file),
    });
    if (lacking.length) tellLeft(draft, lacking.length);
    else await drafts.remove(draft.key);
    if (lacking.length < files.length) sendOn();
  }

  function tellLeft(draft, number) {
    const words = ngettext("%(number)s photo of your look at %(tree)s is not saved yet.", "%(number)s photos of your look at %(tree)s are not saved yet.", number, { tree: draft.tree });
    const notice = make("div", { class: "notice caution", "data-own": true, "data-left": draft.key, role: "status" }, make("p", {}, make("b", {}, words), " ", gettext("Make room on this phone, then open this page again.")));
    notice.append(awayWith(draft, notice));
    page.querySelector(".notices")?.append(notice);
  }

  const addressOf = ({ key, tree, round }) => `/${orchard}/trees/${encodeURIComponent(tree)}/inspections/new/?begun=${key}${round ? `&round=${encodeURIComponent(round)}` : ""}`;

  // Gone for good only when asked twice: it is nowhere else.
  function awayWith(draft, notice) {
    const photos = draft.pictures.length;
    const words = photos
      ? ngettext("It and %(number)s photo are on this phone only, and then nowhere.", "It and %(number)s photos are on this phone only, and then nowhere.", photos)
      : gettext("It is on this phone only, and then nowhere.");
    const away = () => {
      drafts.remove(draft.key).catch(() => {});
      notice.remove();
    };
    return make(
      "details",
      { class: "removal" },
      make("summary", { class: "button plain" }, gettext("Discard look")),
      make("p", {}, words),
      make("button", { class: "button danger", type: "button", click: away }, gettext("Yes, discard")),
    );
  }

  function offerOf(draft) {
    const words = gettext("Unfinished look at %(tree)s, begun %(time)s.", { tree: draft.tree, time: told(draft.began_at) });
    const notice = make("div", { class: "notice offline", "data-own": true, "data-begun": draft.key }, make("p", {}, make("b", {}, words)));
    // On a form of its own: what is begun on this one stays another look.
    const on = make("a", { class: "button", href: addressOf(draft) }, gettext("Continue look"));
    notice.append(on, awayWith(draft, notice));
    return notice;
  }

  // Follow the form of this page, and offer what was begun here or elsewhere.
  async function tend(form) {
    const wanted = new URLSearchParams(page.location.search).get("begun");
    const left = await open().catch(() => []);
    const isOfIt = ({ tree }) => form && tree.toLowerCase() === form.dataset.tree.toLowerCase();
    const resumed = left.find((one) => one.key === wanted && isOfIt(one));
    if (resumed) await goOn(form, resumed);
    if (form) follow(form);
    // Of its own tree first, else the newest.
    const others = left.filter((one) => one !== resumed).sort((one, other) => Boolean(isOfIt(other)) - Boolean(isOfIt(one)));
    const place = page.querySelector(".notices");
    for (const draft of others.slice(0, MOST_OFFERED)) {
      if (isOfIt(draft)) form.before(offerOf(draft));
      else place?.append(offerOf(draft));
    }
    const more = others.slice(MOST_OFFERED);
    if (!more.length) return;
    const words = ngettext("%(number)s more unfinished look", "%(number)s more unfinished looks", more.length);
    place?.append(make("details", { class: "fold", "data-own": true }, make("summary", {}, words), ...more.map(offerOf)));
  }

  return { tend, end, forget, isSafe, without };
}

// Saving a form: kept on this phone first, always, and only then sent.
import { gettext, ngettext } from "../words.js";
import { make } from "../dom.js";
import { makeBegun } from "./begun.js";
import { openDrafts } from "./drafts.js";
import { deedEntry, filesOf, keepPhotos, lookEntry, photoKey, recordedBy, saysNothing } from "./entries.js";
import { restore, setRound } from "./mend.js";
import { makeTurns } from "./turns.js";
import { LONGEST_WAY, post, readAnswer } from "./wire.js";

// So long a person waits to see the saved page; after that it goes on by itself.
const PATIENCE = 2000;
const LOOK_EVERY = 100;
const MINUTE = 60_000;
// An entry that waits for this long under nobody's hand is sent as it was.
const HELD_OPEN = 30 * 60_000;
// So often a photo is offered to the server that waits for its record.
const MOST_ASKED = 5;
const LOOKS = ["inspection", "all-well"];
// What is done once: its form has no second use.
const ONCE = ["inspection", "closure", "taking", "withdrawal", "second_look", "dry_check", "product"];

const pause = (ms) => new Promise((resolve) => { setTimeout(resolve, ms); });

// The entry of a form without its photos, or none where it is nothing but photos.
export function recordEntry(form, { key, by, photos = 0 }) {
  if (form.dataset.outbox === "photos") return null;
  return LOOKS.includes(form.dataset.outbox) ? lookEntry(form, { key, by, photos }) : deedEntry(form, { key, by });
}

// Wait a moment for what becomes of an entry: { gone, refused, isLost }. Another tab may be
// the one that sends it, so the store is asked; where this one tried in vain, it is over.
// Lost is one that is no longer here and of which there is no news.
export async function outcomeOf(store, key, { tried, patience = PATIENCE, wait = pause } = {}) {
  let inVain = false;
  tried?.then(({ end }) => { inVain = ["offline", "server", "signed out", "wait"].includes(end); });
  for (let waited = 0; waited < patience; waited += LOOK_EVERY) {
    const over = inVain;
    const entry = await store.get(key);
    if (!entry) {
      const gone = (await store.news()).find((one) => one.key === key);
      return gone ? { gone } : { isLost: true };
    }
    if (entry.state === "refused") return { refused: entry.reason };
    if (over) return {};
    await wait(LOOK_EVERY);
  }
  return {};
}

const choice = (words, act) => make("button", { class: "button", type: "button", click: act }, words);

function whyNot({ full, late }) {
  if (full) return gettext("This phone has no room left for it.");
  if (late) return gettext("This phone's store does not answer.");
  return gettext("This browser doesn't let the app store records. A private window never does.");
}

function wayOn({ late }, online) {
  if (late) return gettext("Everything you entered is still on this page. Leave it open and try again.");
  if (online) return gettext("Send it now, while there is signal.");
  return gettext("Leave this page open, make room or find signal, and save again.");
}

const whatIsSaved = ({ title, isSent }) => (isSent
  ? gettext("Saved: %(title)s.", { title }) : gettext("Saved on this phone: %(title)s.", { title }));

const hasQuestions = (form) => Boolean(form.querySelector("input:not([type=hidden]), textarea, select"));

export const asksMore = (form, data = new FormData(form)) => Boolean(form.dataset.asksMore)
  && [...data].some(([name, value]) => name === "answer" && value === form.dataset.asksMore);

// Which form an entry was written on: of the closing page there are two.
export function isFormOf(form, { kind, fields }) {
  if (form.dataset.outbox !== kind) return false;
  const how = fields.form.find(([name]) => name === "how")?.[1];
  return !how || form.elements.how?.value === how;
}

// A page that was kept some days ago offers its own day as the newest there is.
export function upToToday(form, now) {
  const day = (part) => String(part).padStart(2, "0");
  const today = `${now.getFullYear()}-${day(now.getMonth() + 1)}-${day(now.getDate())}`;
  for (const field of form.querySelectorAll('input[type="date"][max]')) {
    if (field.max >= today) continue;
    if (field.value === field.max && field.value === field.defaultValue) {
      // Also what the field returns to when the form is used again.
      field.defaultValue = today;
      field.value = today;
    }
    field.max = today;
  }
}

// The moment it is, by the orchard's clock: that of the page, and what has gone by since.
export function upToNow(form, now, rendered) {
  const gone = now - Date.parse(rendered);
  if (!(gone > MINUTE)) return;
  for (const field of form.querySelectorAll('input[type="datetime-local"][data-now]')) {
    if (field.value !== field.defaultValue) continue;
    const moment = new Date(Date.parse(`${field.defaultValue}:00Z`) + gone).toISOString().slice(0, 16);
    field.defaultValue = moment;
    field.value = moment;
  }
}

export function makeKeeper({ page, store, sender, changed, drafts = openDrafts(), turns = makeTurns(store) }) {
  const busy = new WeakSet();
  const records = new WeakMap();
  const ways = new WeakMap();
  let letGo = null;
  let close = async () => {};

  // A fresh key for every showing of a form: a kept page may be shown many times. Tried
  // again, it is the same record of the same moment, and what is kept of it is known.
  const recordOf = (form, before = null) => {
    if (before || !records.has(form)) {
      records.set(form, { key: crypto.randomUUID(), began_at: new Date().toISOString(), said: "", revision: 0, photos: new Set(), sent: new Set(), ...before });
    }
    return records.get(form);
  };
  const sendOn = () => {
    changed();
    sender.nudge();
  };
  const begun = makeBegun({ page, drafts, store, recordOf, sendOn });

  async function keep(form, given = null) {
    const way = given ?? ways.get(form);
    if (busy.has(form)) {
      given?.end();
      return;
    }
    ways.set(form, way);
    // Tried again from here it is followed anew.
    if (!given) way.begin();
    busy.add(form);
    const button = form.querySelector("button.primary");
    button?.setAttribute("aria-disabled", "true");
    const free = () => {
      way.end();
      busy.delete(form);
      button?.removeAttribute("aria-disabled");
    };
    let isLeaving = false;
    try {
      isLeaving = await saved(form, way);
    } finally {
      if (!isLeaving) free();
    }
    if (!isLeaving) return;
    // Until the next page stands there, another tap would save the same once more.
    addEventListener("pagehide", free, { once: true });
    setTimeout(free, LONGEST_WAY);
  }

  async function saved(form, way) {
    // While it is saved the tray says nothing of it: another page may come at once.
    page.body.dataset.saving = "";
    const isLeaving = await goesAway(form, way);
    if (!isLeaving) delete page.body.dataset.saving;
    return isLeaving;
  }

  // Says whether another page comes.
  async function goesAway(form, way) {
    if (asksMore(form)) return ask(form, way);
    if (!("sure" in form.dataset) && await isAnothers(form)) return false;
    const record = recordOf(form);
    record.moment ??= new Date().toISOString();
    const by = recordedBy(page.body, record.moment);
    const files = filesOf(form);
    const photos = files.length || await photosBefore(form, record);
    const entry = recordEntry(form, { key: record.key, by, photos });
    if (!entry && !files.length) {
      say(form, "refused", gettext("No photo is chosen."));
      return false;
    }
    if (form.dataset.outbox === "inspection" && !photos && saysNothing(entry.fields.form)) {
      say(form, "refused", gettext("Nothing recorded yet."), gettext("Choose a sign or All well, or take a photo."));
      return false;
    }
    const { isKept, before } = entry ? await keepRecord(form, record, entry) : { isKept: true };
    if (!isKept) return false;
    const tree = form.dataset.outbox === "photos" ? form.elements.tree?.value.trim() ?? "" : "";
    const lacking = await keepPhotos(files, {
      store,
      kept: record.photos,
      about: {
        parent: entry ? record.key : "",
        by,
        round: form.elements.round?.value ?? "",
        full: Boolean(form.querySelector("[data-full-size]")?.checked),
        of: form.dataset.tree || entry?.title || tree,
        tree,
      },
      safe: (file) => begun.isSafe(record.key, file),
      without: (file, work) => begun.without(record.key, photoKey(file), work),
      step: (n, all) => say(form, "", gettext("Making photo %(n)s of %(all)s ready.", { n, all })),
    });
    changed();
    if (lacking.length) {
      sender.nudge();
      tellLacking(form, record, lacking, entry);
      return false;
    }
    way.safe();
    if (before) {
      sender.nudge();
      wasSent(form, before);
      return false;
    }
    // Drafts that do not answer hold nobody up: what is saved is found by its key later.
    if (form.dataset.tree) await Promise.race([begun.end(form), pause(PATIENCE)]);
    return sentOrKept(form, way, {
      key: entry?.key ?? keyOfOne(files, record),
      title: entry?.title ?? ngettext("%(number)s photo without a record", "%(number)s photos without a record", files.length),
      hasRecord: Boolean(entry),
      photos: entry ? files.length : 0,
    });
  }

  // Of a look that was kept before, photos may wait that do not stand on this form.
  async function photosBefore(form, { key, revision }) {
    if (form.dataset.outbox !== "inspection" || !revision) return 0;
    const all = await store.list().catch(() => []);
    return all.filter((one) => one.kind === "photo" && one.fields.inspection === key).length;
  }

  // Of photos without a record one that waits tells of all, or none where all were sent from here.
  const keyOfOne = (files, record) => {
    const one = files.find(({ file }) => !record.sent.has(file));
    return one ? photoKey(one.file) : "";
  };

  // The record comes first and by itself. One that waits already as it stands is not kept
  // once more. Says whether it is kept, and what it was sent as before, where that was otherwise.
  async function keepRecord(form, record, entry) {
    const said = JSON.stringify(entry.fields);
    const isSame = record.said === said;
    let before = null;
    try {
      const here = isSame && await store.get(entry.key);
      if (here?.state !== "waiting" || here.revision !== record.revision) before = await put(record, entry);
    } catch (fault) {
      // Nobody knows what a store that answers too late has kept.
      if (fault.late) record.revision = null;
      cannotKeep(form, fault, entry);
      return { isKept: false };
    }
    if (before?.state) {
      wasChanged(form);
      return { isKept: false };
    }
    if (!before) record.said = said;
    form.dataset.kept = "";
    letGo?.();
    await close();
    return { isKept: true, before: isSame ? null : before };
  }

  // Keep the record in place of what this page knows of it. Gives what stands against it.
  async function put(record, entry) {
    const put_ = () => store.put([entry], { once: entry.key, revision: record.revision });
    const before = await put_().catch((fault) => {
      if (!fault.full) throw fault;
      return begun.without(entry.key, null, put_);
    });
    if (!before && record.revision !== null) record.revision += 1;
    return before;
  }

  async function sentOrKept(form, way, { key, title, hasRecord, photos }) {
    letGo?.();
    say(form, "done", gettext("Saved on this phone."), gettext("Sending it."));
    store.recall("persist").then((asked) => {
      if (!asked) navigator.storage?.persist?.().then(() => store.remember("persist", true));
    }).catch(() => {});
    const tried = sender.nudge();
    const { gone, refused, isLost } = key ? await outcomeOf(store, key, { tried }) : { gone: {} };
    if (refused !== undefined) {
      say(form, "refused", gettext("Refused:"), refused, gettext("It stays in the outbox. Correct it here and save again, or later from there."));
      return false;
    }
    if (isLost) {
      say(form, "refused", gettext("It is no longer in this phone's outbox, and nothing here says that it was sent."), gettext("It was withdrawn on another page, or this phone had no room to note the answer. Look at the tree's page, or save again: it is recorded only once."));
      return false;
    }
    records.delete(form);
    delete form.dataset.kept;
    const saved = { title, photos, isSent: Boolean(gone) };
    if (way.isOut()) return stay(form, saved);
    if (gone?.url && hasRecord) return arrived(form, key, gone);
    changed();
    return goOn(form, saved);
  }

  // The record is safe; which photo is not, and why.
  function tellLacking(form, record, lacking, entry) {
    const why = ({ chosen, photo, fault }) => {
      if (!chosen.file.size) return gettext("it is empty (0 bytes). Take it again.");
      if (fault.tooLarge) return gettext("it is larger than 25 MB. Choose a smaller copy.");
      if (!photo) return gettext("it can't be read. Choose it again.");
      return whyNot(fault);
    };
    const lines = lacking.map((one) => gettext("Photo %(n)s (%(name)s) is not saved: %(why)s", { n: one.n, name: one.chosen.file.name, why: why(one) }));
    const notice = say(
      form,
      "refused",
      entry ? gettext("The record is saved on this phone.") : "",
      ...lines,
      gettext("Leave this page open and save again, or leave the photo out."),
    );
    if (navigator.onLine && lacking.some(({ photo }) => photo)) {
      notice.append(choice(gettext("Send the photo without keeping it"), () => sendPhotos(form, record, lacking)));
    }
  }

  // A phone without room still has a line: its photos go from the page itself.
  async function sendPhotos(form, record, lacking) {
    for (const { chosen, photo } of lacking) {
      if (!photo || !await isTaken(photo)) continue;
      record.photos.add(chosen.file);
      record.sent.add(chosen.file);
      await begun.isSafe(record.key, chosen.file);
    }
    return keep(form);
  }

  // Its record may be on the way still.
  async function isTaken({ bytes, ...photo }) {
    for (let n = 0; n < MOST_ASKED; n += 1) {
      const came = await post(photo, bytes, new Date().toISOString()).catch(() => null);
      const { answer } = came ? readAnswer(came, photo.key) : {};
      if (answer !== "wait") return answer === "kept" || answer === "already";
      await pause(PATIENCE);
    }
    return false;
  }

  // Some answers have questions of their own, which only the server knows.
  function ask(form, way) {
    if (navigator.onLine) {
      way.end();
      form.submit();
      return true;
    }
    say(form, "refused", gettext("This answer has questions of its own, and there is no signal to fetch them."), gettext("Choose another answer, or give this one where there is signal."));
    return false;
  }

  // Somebody else signed in on this phone since this page was opened: ask whose it is.
  async function isAnothers(form) {
    const here = await store.recall("signed in").catch(() => null);
    const { person, personName } = page.body.dataset;
    if (!here || String(here.person) === person) return false;
    const asked = say(
      form,
      "refused",
      gettext("Whose record is this?"),
      gettext("%(opened)s opened this page; %(here)s has signed in on this phone since.", { opened: personName, here: here.person_name }),
    );
    asked.append(make(
      "div",
      { class: "deeds" },
      make("button", {
        class: "button",
        type: "button",
        click: () => {
          form.dataset.sure = "";
          keep(form);
        },
      }, gettext("%(name)s saw it: keep it", { name: personName })),
      make("button", {
        class: "button",
        type: "button",
        click: async () => {
          await begun.forget(form);
          location.reload();
        },
      }, gettext("%(name)s saw it: begin anew", { name: here.person_name })),
    ));
    return true;
  }

  function arrived(form, key, gone) {
    if (form.dataset.outbox === "all-well") {
      location.reload();
      return true;
    }
    if (!gone.notices?.length) store.seen(key).catch(() => {});
    ways.get(form).leadTo(gone.url);
    return true;
  }

  // Where one goes on: the round that is walked knows the next tree.
  function nextAfter({ dataset, elements }) {
    const { orchard } = page.body.dataset;
    if (dataset.next) return dataset.next;
    if (LOOKS.includes(dataset.outbox) && elements.round?.value) return `/${orchard}/rounds/${elements.round.value}/`;
    return dataset.tree ? `/${orchard}/trees/${encodeURIComponent(dataset.tree)}/` : "";
  }

  // Not sent yet: on from here, if the next page is on the phone; else say it and stay.
  async function goOn(form, saved) {
    const next = nextAfter(form);
    const here = next && await globalThis.caches?.match(next, { ignoreVary: true }).catch(() => null);
    if (next === location.pathname || !here || !navigator.serviceWorker?.controller) return stay(form, saved);
    await store.remember("saved", { text: whatIsSaved(saved), at: Date.now() }).catch(() => {});
    ways.get(form).leadTo(next);
    return true;
  }

  function stay(form, saved) {
    const { photos, isSent } = saved;
    form.reset();
    say(
      form,
      "done",
      whatIsSaved(saved),
      isSent ? "" : gettext("Sent when there is signal and the app is open. You can walk on."),
      photos ? ngettext("%(number)s photo goes after it.", "%(number)s photos go after it.", photos) : "",
    );
    if (ONCE.includes(form.dataset.outbox)) form.hidden = true;
    return false;
  }

  function cannotKeep(form, fault, { key, made_at }) {
    // Sent without being kept it is the same record, of the same moment.
    if (form.elements.key) form.elements.key.value = key;
    if (form.elements.made_at) form.elements.made_at.value = made_at;
    const online = navigator.onLine;
    const notice = say(form, "refused", gettext("Not saved yet."), whyNot(fault), wayOn(fault, online));
    if (fault.late) notice.append(choice(gettext("Try again"), () => keep(form)));
    if (online) notice.append(choice(gettext("Send it without keeping it"), () => sendUnkept(form, key)));
  }

  // A store that answered too late may have kept it all the same: then that one counts.
  async function sendUnkept(form, key) {
    try {
      const isKept = await store.get(key) || (await store.news()).some((one) => one.key === key);
      if (isKept) return keep(form);
    } catch (fault) {
      // The book knows a look by the key on its form; another deed it would do twice.
      if (fault.late && form.dataset.outbox !== "inspection") {
        const notice = say(form, "refused", whyNot(fault), gettext("If it was kept after all, it is recorded twice. Look into the outbox afterwards."));
        notice.append(
          choice(gettext("Try again"), () => keep(form)),
          choice(gettext("Send it all the same"), () => submit(form)),
        );
        return undefined;
      }
    }
    return submit(form);
  }

  async function submit(form) {
    await begun.forget(form);
    form.submit();
  }

  // Another page has saved it since this one began: neither is written over.
  function wasChanged(form) {
    const notice = say(form, "refused", gettext("It was saved on another page meanwhile."), gettext("What you changed here isn't in it, and is still on this page."));
    notice.append(make("a", { class: "button", href: "/outbox/", target: "_blank" }, gettext("Open the outbox")));
  }

  // It arrived as it was before; what was changed since is not in it.
  function wasSent(form, { kind, url }) {
    const look = kind === "inspection";
    const notice = say(form, "refused", gettext("It was sent before you saved."), gettext("What you changed since isn't in it, and is still on this page."));
    if (!url) return;
    notice.append(make(
      "a",
      { class: "button", href: look ? `${url}correction/` : url, target: "_blank" },
      look ? gettext("Correct what was saved") : gettext("Read what was saved"),
    ));
  }

  // Say something where it is seen, and read out.
  function say(form, level, head, ...rest) {
    page.querySelector("[data-kept-said]")?.remove();
    const notice = make(
      "div",
      { class: `notice ${level}`, "data-own": true, "data-kept-said": level, role: "status" },
      make("p", {}, make("b", {}, head), " ", rest.filter(Boolean).join(" ")),
    );
    const place = form.dataset.outbox === "all-well" ? page.querySelector(".notices") : null;
    if (place) place.append(notice);
    else form.before(notice);
    notice.scrollIntoView({ block: "center" });
    return notice;
  }

  // A new worker of the page waits while a form is open and unsaved.
  function holdWhileUnsaved(form) {
    form.addEventListener("input", () => {
      if (letGo || !navigator.locks) return;
      letGo = () => {};
      navigator.locks.request("orchard-form-open", { mode: "shared" }, () => new Promise((free) => {
        letGo = () => { free(); letGo = null; };
      }));
    });
  }

  async function tend() {
    setRound(page, location);
    const forms = [...page.querySelectorAll("form[data-outbox]")].filter(hasQuestions);
    for (const form of forms) {
      holdWhileUnsaved(form);
      upToToday(form, new Date());
      upToNow(form, new Date(), page.body.dataset.renderedAt);
      const size = form.querySelector("[data-full-size]")?.closest("[hidden]");
      if (size && !("steps" in form.dataset)) size.hidden = false;
    }
    const wanted = new URLSearchParams(location.search).get("mend");
    if (wanted && forms.length) await mend(forms, wanted);
    else await begun.tend(forms.find((form) => form.dataset.outbox === "inspection") ?? null);
  }

  // Fill a form from the entry that was written on it, which is not sent meanwhile.
  async function mend(forms, key) {
    const told = setTimeout(() => say(forms[0], "offline", gettext("It is on its way now."), gettext("It opens here when the answer has come.")), LOOK_EVERY);
    close = await turns.open(key);
    clearTimeout(told);
    let entry;
    let gone;
    try {
      entry = await store.get(key);
      gone = entry ? null : (await store.news()).find((one) => one.key === key);
    } catch (fault) {
      say(forms[0], "refused", whyNot(fault), gettext("Nothing is lost. Reload the page."));
      await close();
      return;
    }
    page.querySelector("[data-kept-said]")?.remove();
    if (gone) wasSent(forms[0], gone);
    const form = entry && forms.find((one) => isFormOf(one, entry));
    const isOwn = form && String(entry.person) === page.body.dataset.person;
    if (form && !isOwn) {
      say(form, "refused", gettext("%(name)s recorded this. Only %(name)s can correct it.", { name: entry.person_name }));
    }
    if (!isOwn) {
      // Nothing of it is changed here: it holds nothing up.
      await close();
      return;
    }
    holdWhileChanged(form);
    recordOf(form, { key, moment: entry.made_at, revision: entry.revision });
    form.closest("details")?.setAttribute("open", "");
    restore(form, entry.fields.form);
    const { title, reason, url } = entry;
    if (url) wasSent(form, entry);
    else if (entry.state === "refused") say(form, "refused", gettext("You are correcting: %(title)s.", { title }), reason);
    else say(form, "offline", gettext("You are changing: %(title)s.", { title }), gettext("The earlier version counts until you save."));
  }

  // A page that was left open and forgotten holds nothing up.
  function holdWhileChanged(form) {
    const leave = async () => {
      await close();
      sender.nudge();
    };
    let timer = setTimeout(leave, HELD_OPEN);
    form.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(leave, HELD_OPEN);
    });
  }

  return { keep, tend, leave: () => drafts.leave() };
}

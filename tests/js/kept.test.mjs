// What goes into the outbox and out of it as a file: photos with their moment, entries,
// the words about them, a round taken along.
import assert from "node:assert/strict";
import { test } from "node:test";

import { NoEntries, read, written } from "../../static/js/outbox/files.js";
import { asksMore, isFormOf, outcomeOf, recordEntry, upToNow, upToToday } from "../../static/js/outbox/form.js";
import { filesOf, keepPhotos, recordedBy, saidBy, titleOf } from "../../static/js/outbox/entries.js";
import { isGiven } from "../../static/js/outbox/begun.js";
import { formsToKeep, isDayOver } from "../../static/js/outbox/kept.js";
import { holdsSince } from "../../static/js/outbox/holds.js";
import { isStale, sentences, stateOf } from "../../static/js/outbox/states.js";
import { watchWay } from "../../static/js/outbox/way.js";
import { wakeOutbox } from "../../static/js/outbox/wake.js";
import { cameraTime, made, MOST_BYTES, takenAt } from "../../static/js/outbox/photo.js";
import { takeAlong } from "../../static/js/taking.js";
import { gettext, learnWords, ngettext } from "../../static/js/words.js";
import { sized, told } from "../../static/js/dom.js";
import { camera } from "./camera.mjs";

const view = (bytes) => new DataView(bytes.buffer);

test("a camera that names its zone is believed to the minute", () => {
  const moment = cameraTime(view(camera({ zone: "+02:00" })));
  assert.equal(moment.toISOString(), "2026-05-12T06:30:15.000Z");
});

test("a camera that names none is on this phone's time", () => {
  const moment = cameraTime(view(camera({ little: false, before: 14 })));
  assert.equal(moment.getTime(), new Date(2026, 4, 12, 8, 30, 15).getTime());
});

test("no notes, damaged notes and a clock never set say nothing", () => {
  assert.equal(cameraTime(view(camera({ time: "0000:00:00 00:00:00" }))), null);
  assert.equal(cameraTime(view(camera({ time: "yesterday" }))), null);
  assert.equal(cameraTime(view(camera().slice(0, 40))), null);
  assert.equal(cameraTime(view(new Uint8Array([0x89, 0x50, 0x4e, 0x47, 0, 0, 0, 0]))), null);
  assert.equal(cameraTime(view(new Uint8Array([0xff, 0xd8, 0xff, 0xda, 0, 0]))), null);
  assert.equal(cameraTime(view(new Uint8Array([0xff]))), null);
  for (let cut = 2; cut < 430; cut += 1) cameraTime(view(camera().slice(0, cut)));
});

test("without notes the file's own time is the moment", async () => {
  const at = Date.UTC(2026, 4, 12, 7);
  const plain = new File([new Uint8Array([1, 2, 3])], "a.heic", { lastModified: at });
  assert.equal(await takenAt(plain), "2026-05-12T07:00:00.000Z");
  const noted = new File([camera({ zone: "Z" }), new Uint8Array(9)], "a.jpg", { lastModified: at });
  assert.equal(new Date(await takenAt(noted)).getTime(), new Date(2026, 4, 12, 8, 30, 15).getTime());
  assert.equal(await takenAt({ slice: () => new Blob([]), lastModified: 0 }), "");
});

test("what this phone cannot read goes as it came", async (t) => {
  globalThis.createImageBitmap = async () => { throw new Error("InvalidState"); };
  t.after(() => { delete globalThis.createImageBitmap; });
  const file = new File([new Uint8Array([1, 2, 3])], "a.heic", { type: "image/heic" });
  const { bytes, type, shrunk } = await made(file);
  assert.deepEqual([...new Uint8Array(bytes)], [1, 2, 3]);
  assert.equal(type, "image/heic");
  assert.equal(shrunk, false);
});

test("a picture that this phone never finishes with goes as it came", async (t) => {
  t.mock.timers.enable({ apis: ["setTimeout"] });
  globalThis.createImageBitmap = () => new Promise(() => {});
  t.after(() => { delete globalThis.createImageBitmap; });
  const file = new File([new Uint8Array([1, 2, 3])], "a.jpg", { type: "image/jpeg" });
  const ready = made(file);
  t.mock.timers.tick(15_000);
  assert.deepEqual([...new Uint8Array((await ready).bytes)], [1, 2, 3]);
  const stuck = made({ arrayBuffer: () => new Promise(() => {}) }, { full: true });
  t.mock.timers.tick(30_000);
  await assert.rejects(stuck);
});

function drawing(width, height, size, type = "image/jpeg") {
  let closed = 0;
  globalThis.createImageBitmap = async () => ({ width, height, close: () => { closed += 1; } });
  const sheet = {
    getContext: () => ({ drawImage: () => {} }),
    toBlob(done) { done(new Blob([new Uint8Array(size)], { type })); },
  };
  globalThis.document = { createElement: () => sheet, documentElement: { lang: "en" } };
  return { sheet, closed: () => closed };
}

test("a large photo is shrunk to 2048 pixels, its shape kept", async () => {
  const drawn = drawing(4032, 3024, 10);
  const file = new File([new Uint8Array(900_000)], "a.jpg", { type: "image/jpeg" });
  const { bytes, type, shrunk } = await made(file);
  assert.deepEqual([drawn.sheet.width, drawn.sheet.height], [2048, 1536]);
  assert.deepEqual([bytes.byteLength, type, shrunk, drawn.closed()], [10, "image/jpeg", true, 1]);
});

test("full size, a small photo, and one that would only grow go as they are", async () => {
  const file = new File([new Uint8Array(900_000)], "a.jpg", { type: "image/jpeg" });
  drawing(4032, 3024, 10);
  assert.equal((await made(file, { full: true })).bytes.byteLength, 900_000);
  drawing(4032, 3024, 900_001);
  assert.equal((await made(file)).shrunk, false);
  drawing(4032, 3024, 10, "image/png");
  assert.equal((await made(file)).shrunk, false);
  drawing(800, 600, 10);
  assert.equal((await made(new File([new Uint8Array(500)], "s.jpg"))).shrunk, false);
  assert.equal((await made(file)).shrunk, true, "few pixels in many bytes still shrink");
});

// A form as the outbox asks it.

function aForm(kind, fields, { shown = [], round } = {}) {
  const panels = shown.map(([sign, verdict]) => ({
    dataset: { verdict },
    closest: () => ({ dataset: { sign } }),
  }));
  const data = fields.map(([name, value]) => [name, value]);
  return {
    dataset: { outbox: kind, tree: kind === "photos" ? undefined : "B-07" },
    elements: round ? { round: { value: round } } : {},
    querySelectorAll: () => panels,
    data,
  };
}

const realFormData = globalThis.FormData;
function withForms(t) {
  globalThis.FormData = function read_(form) { return form.data; };
  t.after(() => { globalThis.FormData = realFormData; });
}

// A store that only takes in, unless it is made to refuse.
function aShelf(check = () => {}) {
  const put = async ([entry]) => {
    check(entry);
    put.entries.push(entry);
  };
  put.entries = [];
  return { put };
}

const body = { dataset: { person: "7", personName: "Vera", orchard: "alderbrook" } };
const picture = (name) => new File([new Uint8Array([9])], name, { type: "image/png", lastModified: 5 });

test("a form becomes its record and one entry for each photo", async (t) => {
  withForms(t);
  drawing(10, 10, 5);
  const form = aForm("inspection", [
    ["csrfmiddlewaretoken", "secret"], ["key", "old"], ["made_at", "now"], ["step", "save"], ["word", "suck"],
    ["sign", "sucker"], ["sucker:graft", "below"], ["note", ""], ["task", "12"],
    ["photos", picture("a.png")], ["photos", new File([], "")], ["sucker:photo", picture("b.png")],
    ["round", "4"],
  ], { shown: [["sucker", "a"], ["aphids", "w"], ["sucker", ""]], round: "4" });
  const steps = [];
  const by = recordedBy(body, "2026-05-12T09:00:00.000Z");
  const files = filesOf(form);
  const look = recordEntry(form, { key: "k", by, photos: files.length });
  const store = aShelf();
  const about = { parent: "k", by, round: "4", of: "B-07" };
  const kept = new Set();
  const lacking = await keepPhotos(files, { store, kept, about, step: (...n) => steps.push(n) });
  assert.deepEqual([lacking, kept.size], [[], 2]);
  assert.deepEqual(steps, [[1, 2], [2, 2]]);
  const [whole, close] = store.put.entries;
  assert.deepEqual(look.fields, {
    tree: "B-07",
    form: [["sign", "sucker"], ["sucker:graft", "below"], ["task", "12"], ["round", "4"], ["sucker:shown", "act"]],
    round: "4",
  });
  assert.equal(look.key, "k");
  assert.equal(look.title, "B-07, 1 finding, 1 task done, 2 photos");
  assert.equal(whole.fields.finding_sign, "");
  assert.equal(close.fields.finding_sign, "sucker");
  for (const one of [whole, close]) {
    assert.equal(one.fields.inspection, "k");
    assert.equal(one.fields.round, "4");
    assert.equal(one.fields.taken_at, "1970-01-01T00:00:00.005Z");
    assert.ok(one.bytes instanceof ArrayBuffer);
  }
  assert.notEqual(whole.key, close.key);
  // What is kept is not kept once more; on another form it would be the same entry again.
  await keepPhotos(files, { store, kept, about });
  assert.equal(store.put.entries.length, 2);
  await keepPhotos(files, { store, kept: new Set(), about });
  assert.deepEqual(store.put.entries.slice(2).map(({ key }) => key), [whole.key, close.key]);
  for (const one of [look, whole, close]) {
    assert.deepEqual([one.person, one.person_name, one.orchard], [7, "Vera", "alderbrook"]);
  }
});

test("a look that says nothing announces its photos, and one without any does not", (t) => {
  withForms(t);
  const by = recordedBy(body, "2026-05-12T09:00:00.000Z");
  const fieldsOf = (form, photos) => recordEntry(aForm("inspection", form), { key: "k", by, photos }).fields;
  const bare = [["units", "metric"], ["edition", "9"], ["seen_day", "2026-05-11"], ["note", " \n"]];
  assert.equal(fieldsOf(bare, 1).photos_follow, true);
  // However many there are: one that is left out later changes nothing of the record.
  assert.deepEqual(fieldsOf(bare, 2), fieldsOf(bare, 1));
  assert.equal("photos_follow" in fieldsOf(bare, 0), false);
  for (const word of [["sign", "sucker"], ["all_well", "1"], ["condition", "3"], ["note", "Bees"], ["task", "4"], ["bbch", "65"]]) {
    assert.equal("photos_follow" in fieldsOf([...bare, word], 1), false, word[0]);
  }
});

test("photos without a record are entries that name none", async (t) => {
  withForms(t);
  drawing(10, 10, 5);
  const form = aForm("photos", [["photos", picture("a.png")]]);
  const by = recordedBy(body, "now");
  assert.equal(recordEntry(form, { key: "k", by }), null);
  const store = aShelf();
  await keepPhotos(filesOf(form), { store, kept: new Set(), about: { by, full: true } });
  const [only] = store.put.entries;
  assert.equal(only.kind, "photo");
  assert.equal(only.fields.inspection, "");
  assert.equal(only.fields.full_size, true);
  assert.equal("tree" in only.fields, false);
  assert.equal(only.title, "Photo without a record");
  const about = { by, of: "A-7", tree: "A-7" };
  await keepPhotos(filesOf(form), { store, kept: new Set(), about });
  const [, other] = store.put.entries;
  assert.equal(other.fields.tree, "A-7");
  assert.equal(other.title, "Photo of A-7");
});

test("work that is closed becomes its own entry, and its photo names it", async (t) => {
  withForms(t);
  drawing(4032, 3024, 5);
  const form = aForm("closure", [
    ["csrfmiddlewaretoken", "secret"], ["how", "done"], ["done-evidence", "4 cut"],
    ["done-photo", new File([new Uint8Array(900_000)], "a.jpg", { type: "image/jpeg" })],
  ]);
  form.dataset = { outbox: "closure", task: "12", title: "Sucker round, B-07", page: "/alderbrook/tasks/12/closure/" };
  const by = recordedBy(body, "2026-05-12T09:00:00.000Z");
  const deed = recordEntry(form, { key: "k", by });
  const store = aShelf();
  await keepPhotos(filesOf(form), { store, kept: new Set(), about: { parent: "k", by } });
  const [photo, ...more] = store.put.entries;
  assert.deepEqual(more, []);
  // As small as one of a look: the form of a closing asks for no full size.
  assert.deepEqual([photo.fields.full_size, photo.bytes.byteLength, photo.file_type], [false, 5, "image/jpeg"]);
  assert.deepEqual(deed, {
    key: "k",
    kind: "closure",
    person: 7,
    person_name: "Vera",
    orchard: "alderbrook",
    made_at: "2026-05-12T09:00:00.000Z",
    fields: { task: "12", form: [["how", "done"], ["done-evidence", "4 cut"]] },
    title: "Sucker round, B-07",
    page: "/alderbrook/tasks/12/closure/",
  });
  assert.deepEqual([photo.kind, photo.fields.inspection], ["photo", "k"]);
});

test("an entry finds the form it was written on, where a page has two of its kind", () => {
  const done = { dataset: { outbox: "closure" }, elements: { how: { value: "done" } } };
  const skip = { dataset: { outbox: "closure" }, elements: { how: { value: "skipped" } } };
  const entry = { kind: "closure", fields: { form: [["how", "skipped"], ["skip-reason", "wet"]] } };
  assert.deepEqual([done, skip].map((form) => isFormOf(form, entry)), [false, true]);
  assert.equal(isFormOf(done, { kind: "watering", fields: { form: [] } }), false);
});

test("an answer with questions of its own is not kept before they are asked", () => {
  const form = { dataset: { outbox: "second_look", asksMore: "other" } };
  assert.equal(asksMore(form, [["answer", "other"], ["sign", "aphids"]]), true);
  assert.equal(asksMore(form, [["answer", "agreed"], ["note", "other"]]), false);
  assert.equal(asksMore({ dataset: { outbox: "second_look" } }, [["answer", "other"]]), false);
});

test("a page kept some days ago takes today for its newest day, and leaves a chosen day", () => {
  const field = (value, rest = {}) => ({ value, defaultValue: "2026-05-10", max: "2026-05-10", ...rest });
  const [own, chosen, fresh] = [field("2026-05-10"), field("2026-05-08"), field("2026-05-13", { max: "2026-05-13" })];
  upToToday({ querySelectorAll: () => [own, chosen, fresh] }, new Date(2026, 4, 12, 23, 30));
  assert.deepEqual([own.value, own.max], ["2026-05-12", "2026-05-12"]);
  assert.deepEqual([chosen.value, chosen.max], ["2026-05-08", "2026-05-12"]);
  assert.deepEqual([fresh.value, fresh.max], ["2026-05-13", "2026-05-13"]);
});

test("a kept page offers the moment it is by the orchard's clock, and leaves a chosen one", () => {
  const field = (value) => ({ value, defaultValue: "2026-05-10T23:50" });
  const [own, chosen] = [field("2026-05-10T23:50"), field("2026-05-10T09:00")];
  const form = { querySelectorAll: () => [own, chosen] };
  const rendered = "2026-05-10T22:50:00+00:00";
  upToNow(form, new Date("2026-05-10T22:50:40Z"), rendered);
  assert.equal(own.value, "2026-05-10T23:50");
  upToNow(form, new Date("2026-05-11T08:00:00Z"), rendered);
  assert.deepEqual([own.value, own.defaultValue], ["2026-05-11T09:00", "2026-05-11T09:00"]);
  assert.equal(chosen.value, "2026-05-10T09:00");
  upToNow(form, new Date(), undefined);
  assert.equal(own.value, "2026-05-11T09:00");
});

test("a photo that the server would not take is named before it is kept", async (t) => {
  withForms(t);
  const large = { size: MOST_BYTES + 1, name: "large.jpg", type: "image/jpeg", lastModified: 5 };
  large.arrayBuffer = async () => new ArrayBuffer(MOST_BYTES + 1);
  large.slice = () => new Blob([]);
  const store = aShelf();
  const about = { parent: "k", by: {}, full: true };
  const lacking = await keepPhotos([{ file: large, sign: "" }], { store, kept: new Set(), about });
  assert.deepEqual(store.put.entries, []);
  assert.deepEqual(lacking.map(({ photo, fault }) => [photo, fault.tooLarge]), [[null, true]]);
});

test("a photo that cannot be kept takes no other along, and it is known which and why", async (t) => {
  withForms(t);
  drawing(10, 10, 5);
  const gone = { size: 5, name: "gone.jpg", slice: () => ({ arrayBuffer: async () => { throw new Error("gone"); } }) };
  const form = aForm("inspection", [
    ["photos", picture("a.png")], ["photos", gone], ["photos", new File([], "empty.jpg")], ["sucker:photo", picture("b.png")],
  ]);
  const full = { name: "StoreFailed", full: true };
  const store = aShelf(({ fields }) => { if (fields.file_name === "b.png") throw full; });
  const files = filesOf(form);
  const kept = new Set();
  const lacking = await keepPhotos(files, { store, kept, about: { parent: "k", by: {} } });
  assert.deepEqual(store.put.entries.map(({ fields }) => fields.file_name), ["a.png"]);
  assert.deepEqual([...kept], [files[0].file]);
  assert.deepEqual(lacking.map(({ n, chosen }) => [n, chosen.file.name]), [[2, "gone.jpg"], [3, "empty.jpg"], [4, "b.png"]]);
  assert.deepEqual(lacking.map(({ photo }) => Boolean(photo)), [false, false, true]);
  assert.equal(lacking[2].fault, full);
  assert.deepEqual(saidBy(form), []);
});

test("a form on which nobody has answered yet is no draft", () => {
  assert.equal(isGiven([["units", "metric"], ["edition", "9"], ["round", "4"], ["sucker:shown", "act"]]), false);
  assert.equal(isGiven([["units", "metric"], ["note", "Bees"]]), true);
});

test("a title says in short what was seen", () => {
  assert.equal(titleOf("A-1", [["all_well", "1"]], 0), "A-1, all well");
  assert.equal(titleOf("A-1", [["sign", "a"], ["sign", "b"]], 1), "A-1, 2 findings, 1 photo");
  assert.equal(titleOf("A-1", [["sign", "a"], ["a:done", "1"], ["task", "4"]], 0), "A-1, 1 finding, 2 tasks done");
});

// Waiting a moment for what becomes of it.

const waitless = () => Promise.resolve();

test("what becomes of an entry is seen in the store, whichever tab sent it", async () => {
  let asked = 0;
  const store = {
    get: async () => { asked += 1; return asked < 3 ? { state: "waiting" } : undefined; },
    news: async () => [{ key: "b" }, { key: "a", url: "/x/" }],
  };
  assert.deepEqual(await outcomeOf(store, "a", { wait: waitless }), { gone: { key: "a", url: "/x/" } });
  assert.deepEqual(await outcomeOf(store, "z", { wait: waitless }), { isLost: true }, "none has news of it");
});

test("a refusal is told at once, and patience has an end", async () => {
  const refused = { get: async () => ({ state: "refused", reason: "No." }) };
  assert.deepEqual(await outcomeOf(refused, "a", { wait: waitless }), { refused: "No." });
  let asked = 0;
  const waits = { get: async () => { asked += 1; return { state: "waiting" }; } };
  assert.deepEqual(await outcomeOf(waits, "a", { patience: 1000, wait: waitless }), {});
  assert.equal(asked, 10);
  asked = 0;
  const tried = Promise.resolve({ end: "offline" });
  await tried;
  await outcomeOf(waits, "a", { tried, patience: 100_000, wait: waitless });
  assert.ok(asked < 5, "a try in vain is not waited for");
});

// Files

const entry = {
  key: "6f6c1a0e-0000-4000-8000-000000000001", kind: "inspection", orchard: "alderbrook",
  person: 7, person_name: "Vera", made_at: "2026-05-12T09:00:00.000Z",
  fields: { tree: "A-1", form: [["note", "Grüße"]] }, title: "A-1", seq: 4, revision: 2, tries: 3,
};
const shot = { ...entry, key: entry.key.replace("1", "2"), kind: "photo", fields: { inspection: entry.key } };

test("an entry saved as a file comes back as it was, its bytes too", () => {
  const bytes = new Uint8Array(70_000).map((_, n) => n % 251).buffer;
  const text = written([[entry, null], [shot, bytes]], "2026-05-12T10:00:00.000Z");
  const [look, photo] = read(text);
  assert.deepEqual(look.fields, entry.fields);
  assert.equal(look.person, 7);
  assert.equal("seq" in look || "revision" in look || "tries" in look, false);
  assert.deepEqual(new Uint8Array(photo.bytes), new Uint8Array(bytes));
});

test("what is no such file is taken in not even in part", () => {
  const sound = JSON.parse(written([[entry, null]], "now"));
  const spoiled = (changes) => JSON.stringify({ ...sound, entries: [...sound.entries, { ...sound.entries[0], ...changes }] });
  for (const text of [
    "", "{", "[]", "null", "{}", JSON.stringify({ ...sound, format: "x" }),
    JSON.stringify({ ...sound, version: 2 }), JSON.stringify({ ...sound, entries: [] }),
    spoiled({ key: "1" }), spoiled({ kind: "deed" }), spoiled({ person: "7" }),
    spoiled({ orchard: 3 }), spoiled({ made_at: "?" }), spoiled({ fields: null }),
    spoiled({ fields: {} }), spoiled({ kind: "photo" }), spoiled({ kind: "photo", bytes: "*" }),
  ]) {
    assert.throws(() => read(text), NoEntries, text);
  }
});

// Words

const at = new Date(2026, 4, 12, 12, 0);
const waiting = (rest) => ({
  key: "a", kind: "inspection", state: "waiting", person: 7, person_name: "Vera",
  made_at: new Date(2026, 4, 12, 10, 42).toISOString(), fields: {}, reason: "", ...rest,
});

test("the tray says how much waits and since when, whose it is, and what needs you", () => {
  const say = (entries, rest = {}) => sentences(entries, { person: 7, on: at, ...rest });
  assert.deepEqual(say([]), []);
  assert.deepEqual(
    say([waiting(), waiting({ made_at: at.toISOString() }), waiting()]),
    ["3 waiting since 10:42"],
  );
  assert.deepEqual(say([waiting({ person: 8, person_name: "Lee" })]), ["1 from Lee waits until Lee signs in"]);
  assert.deepEqual(say([waiting({ state: "refused" })]), ["1 refused: it needs you"]);
  assert.deepEqual(
    say([waiting()], { person: null, end: "signed out" }),
    ["1 waiting since 10:42", "Sign in, then it goes on by itself"],
  );
});

test("each entry says what holds it up", () => {
  const one = waiting();
  const say = (rest, about = {}) => stateOf({ ...one, ...rest }, { person: 7, ...about });
  assert.match(say({ state: "refused", reason: "No tree." }), /Refused: No tree\./);
  assert.match(say({}, { busy: "a" }), /On its way/);
  assert.match(say({}, { open: new Set(["a"]) }), /Open on another page/);
  assert.match(say({ person: 8, person_name: "Lee" }), /until Lee signs in/);
  assert.match(say({ kind: "photo", fields: { inspection: "b" } }, { entries: [{ key: "b" }] }), /after its record/);
  assert.match(say({}, { person: null }), /until you sign in/);
  assert.match(say({}, { outcome: "signed out" }), /until you sign in/);
  assert.match(say({ reason: "Its record" }), /Waits: Its record/);
  assert.match(say({}, { outcome: "offline" }), /for signal/);
  assert.match(say({}, { outcome: "server" }), /server doesn't answer/);
  assert.match(say({}), /its turn/);
});

test("a page is stale when it is older than its loading, by the server's clock", () => {
  const made = "2026-05-12T09:00:00+01:00";
  const loaded = Date.parse("2026-05-12T08:00:05Z");
  assert.equal(isStale(made, loaded), false);
  assert.equal(isStale(made, loaded + 3_600_000), true);
  assert.equal(isStale(made, loaded + 3_600_000, 3_600_000), false, "the phone is an hour fast");
});

test("times and sizes are said as people say them", () => {
  assert.equal(told(at.toISOString(), at), "12:00");
  assert.match(told(new Date(2026, 4, 10, 9, 5).toISOString(), at), /10.*09:05/);
  assert.equal(told("never", at), "");
  assert.deepEqual([sized(12), sized(4200), sized(2_340_000), sized(10_700_000_000)], ["12 B", "4 kB", "2.3 MB", "10.7 GB"]);
});

test("words are filled in, counted, and come from a list where there is one", async () => {
  assert.equal(gettext("%(a)s and %(b)s", { a: 1 }), "1 and %(b)s");
  assert.equal(ngettext("%(number)s tree", "%(number)s trees", 2), "2 trees");
  await learnWords("en-GB", () => assert.fail("English needs no list"));
  await learnWords("", () => assert.fail("no language, no list"));
  await learnWords("xx", async () => { throw new TypeError(); });
  await learnWords("xx", async () => ({ ok: false }));
  assert.equal(gettext("Outbox"), "Outbox");
  await learnWords("xx", async () => ({
    ok: true,
    json: async () => ({ catalog: { Outbox: "Fach", "%(number)s tree": ["%(number)s Baum", "%(number)s Bäume"] } }),
  }));
  assert.equal(gettext("Outbox"), "Fach");
  assert.equal(ngettext("%(number)s tree", "%(number)s trees", 1), "1 Baum");
  assert.equal(ngettext("%(number)s tree", "%(number)s trees", 3), "3 Bäume");
});

// Waking

function aPage(person) {
  const heard = [];
  return {
    body: { dataset: { person } },
    defaultView: new EventTarget(),
    addEventListener: (name, act) => heard.push(act),
    submit: (form, rest = {}) => {
      const sending = { target: form, defaultPrevented: false, preventDefault() { this.defaultPrevented = true; }, ...rest };
      return Promise.all(heard.map((act) => act(sending))).then(() => sending);
    },
  };
}

const outboxForm = () => ({ sent: 0, matches: (query) => query === "[data-outbox]", submit() { this.sent += 1; } });

test("a form sent before the outbox has come waits for it", async () => {
  const page = aPage("7");
  const kept = [];
  wakeOutbox(page, async () => ({ keep: (form) => kept.push(form) }));
  const form = outboxForm();
  const sending = await page.submit(form);
  assert.equal(sending.defaultPrevented, true);
  assert.deepEqual(kept, [form]);
  const other = { matches: () => false };
  assert.equal((await page.submit(other)).defaultPrevented, false);
  await page.submit(form, { defaultPrevented: true });
  assert.equal(kept.length, 1);
});

test("without the outbox a form goes the ordinary way", async () => {
  const page = aPage("7");
  wakeOutbox(page, async () => { throw new TypeError("no line"); });
  const form = outboxForm();
  await page.submit(form);
  assert.equal(form.sent, 1);
});

const leave = (view) => view.dispatchEvent(new Event("beforeunload", { cancelable: true }));

test("who leaves before a form is safe is asked, and is followed until it is done", async () => {
  const page = aPage("7");
  const ways = [];
  wakeOutbox(page, async () => ({ keep: (form, way) => ways.push(way) }));
  assert.equal(leave(page.defaultView), true);
  const sent = page.submit(outboxForm());
  // The outbox itself is still on its way.
  assert.equal(leave(page.defaultView), false);
  await sent;
  const [way] = ways;
  way.safe();
  assert.deepEqual([leave(page.defaultView), way.isOut()], [true, true]);
  await page.submit(outboxForm());
  ways[1].end();
  assert.deepEqual([leave(page.defaultView), ways[1].isOut()], [true, false]);
});

test("a form that goes the ordinary way asks nobody", async () => {
  const page = aPage("7");
  wakeOutbox(page, async () => { throw new TypeError("no line"); });
  await page.submit(outboxForm());
  assert.equal(leave(page.defaultView), true);
});

test("a link that is tapped leads away where the browser says nothing of it", () => {
  const view = new EventTarget();
  const way = watchWay(view);
  const tap = (isLink) => {
    const press = new Event("click");
    Object.defineProperty(press, "target", { value: { closest: () => (isLink ? {} : null) } });
    view.dispatchEvent(press);
    return way.isOut();
  };
  assert.deepEqual([tap(false), tap(true)], [false, true]);
});

test("a visitor loads no outbox; a phone that holds something does", (t) => {
  let fetched = 0;
  const come = async () => { fetched += 1; return {}; };
  const wake = () => wakeOutbox(aPage(undefined), come);
  t.after(() => { delete globalThis.localStorage; });
  globalThis.localStorage = { getItem: () => null };
  wake();
  globalThis.localStorage = { getItem: () => { throw new Error("SecurityError"); } };
  wake();
  assert.equal(fetched, 0);
  globalThis.localStorage = { getItem: () => "holds" };
  wake();
  assert.equal(fetched, 1);
});

// A round

test("a round is taken along six pages at a time, and what fails is counted", async () => {
  let open = 0;
  let most = 0;
  const steps = [];
  const list = { pages: Array.from({ length: 20 }, (_, n) => `/p/${n}`), pictures: ["/static/a.svg"] };
  const result = await takeAlong(list, {
    async page(url) {
      open += 1;
      most = Math.max(most, open);
      await new Promise((go) => { setTimeout(go, 1); });
      open -= 1;
      if (url === "/p/3") throw new TypeError("dead");
      return url === "/p/4" ? null : url;
    },
    picture: async (url) => url,
    step: (done, all) => steps.push([done, all]),
  });
  assert.deepEqual(result, { kept: 19, missing: 2 });
  assert.equal(most, 6);
  assert.deepEqual(steps.at(-1), [21, 21]);
});

test("a round brings its cards, work and tags besides its pages", async () => {
  const brought = [];
  const bring = (what) => async (url) => { brought.push([what, url]); return url; };
  const list = { pages: ["/p/1"], cards: "/c", work: "/d", tags: "/t" };
  const hands = Object.fromEntries(["page", "picture", "cards", "work", "tags"].map((what) => [what, bring(what)]));
  assert.deepEqual(await takeAlong(list, hands), { kept: 4, missing: 0 });
  assert.deepEqual(brought, [["cards", "/c"], ["work", "/d"], ["tags", "/t"], ["page", "/p/1"]]);
});

test("the forms that close the work shown are kept, and once a day those of every orchard", async (t) => {
  const here = new Set(["/alderbrook/tasks/1/closure/", "/alderbrook/harvests/new/", "/alderbrook/events/"]);
  const before = globalThis.caches;
  globalThis.caches = { match: async (url) => (here.has(url) ? {} : undefined) };
  t.after(() => { globalThis.caches = before; });
  const links = ["/alderbrook/tasks/1/closure/?back=home", "/alderbrook/tasks/2/closure/?back=home", "/alderbrook/tasks/2/?back=home", "/alderbrook/treatments/4/dry/"];
  const page = {
    body: { dataset: { orchard: "alderbrook", person: "7" } },
    querySelectorAll: () => links.map((href) => ({ getAttribute: () => href })),
  };
  assert.deepEqual(await formsToKeep(page, true), [
    "/alderbrook/tasks/2/closure/", "/alderbrook/treatments/4/dry/", "/alderbrook/waterings/", "/alderbrook/ripeness-tests/",
    // It is here, and its holds are of another day.
    "/alderbrook/harvests/new/",
    "/alderbrook/first-day/", "/alderbrook/inspections/blank/", "/alderbrook/treatments/", "/alderbrook/treatments/wet/", "/alderbrook/treatments/new/",
    "/alderbrook/treatments/new/trunk_paint/", "/alderbrook/treatments/new/fertiliser/",
  ]);
  assert.deepEqual(await formsToKeep(page, false), ["/alderbrook/tasks/2/closure/", "/alderbrook/treatments/4/dry/"]);
  assert.deepEqual(await formsToKeep({ ...page, body: { dataset: {} } }, true), []);
});

test("what is brought once a day is due after a day, and at once when it was forgotten", async (t) => {
  const before = globalThis.caches;
  let list;
  const asked = [];
  globalThis.caches = { match: async (...how) => { asked.push(how); return list; } };
  t.after(() => { globalThis.caches = before; });
  const page = { body: { dataset: { orchard: "alderbrook", person: "7" } } };
  const nine = Date.parse("2026-05-12T09:00:00Z");
  const came = (date) => ({ headers: new Headers(date ? { date } : {}) });
  assert.equal(await isDayOver(page, nine), true);
  list = came("Tue, 12 May 2026 08:00:00 GMT");
  assert.equal(await isDayOver(page, nine), false);
  assert.equal(await isDayOver(page, nine + 24 * 3600_000), true);
  list = came();
  assert.equal(await isDayOver(page, nine), true);
  assert.deepEqual(asked[0], ["/alderbrook/tags/codes/", { cacheName: "tags-7", ignoreVary: true }]);
  assert.equal(await isDayOver({ body: { dataset: {} } }, nine), false);
});

test("holds on a kept page say from when they are, and those of another day let nobody in", () => {
  globalThis.document ??= { documentElement: { lang: "en" } };
  const noon = new Date(2026, 4, 12, 12, 0);
  const early = holdsSince(new Date(2026, 4, 12, 8, 30).toISOString(), noon);
  assert.match(early.words, /^Holds as of 08:30\. What was treated since isn't on this phone\./);
  const before = holdsSince(new Date(2026, 4, 11, 23, 59).toISOString(), noon);
  assert.match(before.words, /11 May 23:59|May 11 23:59/);
  assert.match(before.words, /Treat everything as closed/);
  assert.deepEqual([early.level, before.level], ["offline", "caution"]);
});

// What is begun and not saved, on a played disk: whose it is, and that nothing of it stays
// when it is over.
import assert from "node:assert/strict";
import { test } from "node:test";
import { IDBFactory, IDBObjectStore } from "../quality/node_modules/fake-indexeddb/build/esm/index.js";
import { makeBegun } from "../../static/js/outbox/begun.js";
import { keepPhotos } from "../../static/js/outbox/entries.js";
import { openDrafts } from "../../static/js/outbox/drafts.js";
import { openOutbox } from "../../static/js/outbox/store.js";

const about = (more = {}) => ({
  key: "a", person: "7", orchard: "alderbrook", tree: "A-1", round: "", began_at: "2026-05-12T09:40:00.000Z", ...more,
});
const VERA = { person: "7", orchard: "alderbrook" };
const picture = (...bytes) => ({ name: "a.jpg", type: "image/jpeg", taken_at: "", bytes: new Uint8Array(bytes).buffer });

test("answers and pictures are kept as they are given, each in place of the one before", async () => {
  const drafts = openDrafts({ factory: new IDBFactory() });
  await drafts.say(about(), [["sign", "sucker"]]);
  await drafts.show(about(), "sucker:photo", [picture(1), picture(2)]);
  await drafts.say(about(), [["sign", "sucker"], ["note", "Two"]]);
  await drafts.show(about(), "photos", [picture(3)]);
  await drafts.show(about(), "sucker:photo", [picture(4)]);
  const [draft] = await drafts.list(VERA);
  assert.deepEqual(draft.said, [["sign", "sucker"], ["note", "Two"]]);
  const pictures = await drafts.picturesOf(draft);
  assert.deepEqual(pictures.map(({ field, bytes }) => [field, ...new Uint8Array(bytes)]), [["photos", 3], ["sucker:photo", 4]]);
});

test("nobody else sees it, nor the same person in another orchard; the newest comes first", async () => {
  const drafts = openDrafts({ factory: new IDBFactory() });
  await drafts.say(about(), [["note", "x"]]);
  await drafts.say(about({ key: "b", tree: "A-2", began_at: "2026-05-12T10:00:00.000Z" }), [["note", "y"]]);
  await drafts.say(about({ key: "c", person: "8" }), [["note", "z"]]);
  assert.deepEqual((await drafts.list(VERA)).map(({ key }) => key), ["b", "a"]);
  assert.deepEqual(await drafts.list({ ...VERA, orchard: "southbank" }), []);
  assert.deepEqual((await drafts.list({ ...VERA, person: "8" })).map(({ key }) => key), ["c"]);
});

test("what is over leaves nothing behind, its pictures neither", async () => {
  const factory = new IDBFactory();
  const drafts = openDrafts({ factory });
  await drafts.show(about(), "photos", [picture(1), picture(2)]);
  const [draft] = await drafts.list(VERA);
  await drafts.remove("a");
  assert.deepEqual(await drafts.list(VERA), []);
  const left = await drafts.picturesOf(draft);
  assert.deepEqual(left.map(({ bytes }) => bytes), [undefined, undefined]);
  await drafts.remove("never was");
});

// A page on which nothing is begun, as far as drafts that are over need it.
function aPage() {
  const notices = [];
  globalThis.document = {
    documentElement: {},
    createElement: (name) => ({
      name,
      marks: {},
      children: [],
      setAttribute(mark, value) { this.marks[mark] = value; },
      addEventListener() {},
      append(...more) { this.children.push(...more); },
    }),
  };
  return {
    notices,
    body: { dataset: { person: "7", personName: "Vera", orchard: "alderbrook" } },
    location: { search: "" },
    querySelector: () => ({ append: (notice) => notices.push(notice) }),
  };
}

async function aSavedDraft() {
  const [drafts, store] = [openDrafts({ factory: new IDBFactory() }), openOutbox({ factory: new IDBFactory() })];
  await drafts.say(about(), [["sign", "sucker"]]);
  await drafts.show(about(), "sucker:photo", [{ ...picture(1), photo: "p1" }]);
  await drafts.show(about(), "ants:photo", [{ ...picture(2), photo: "p2" }]);
  await store.put([{ key: "a", kind: "inspection", made_at: about().began_at, fields: {} }]);
  let sent = 0;
  const page = aPage();
  const { tend } = makeBegun({ page, drafts, store, recordOf: () => ({}), sendOn: () => { sent += 1; } });
  return { drafts, store, page, tend, sent: () => sent };
}

test("photos of a look whose record alone was kept become its photos, once", async () => {
  const { drafts, store, page, tend, sent } = await aSavedDraft();
  // One of them was kept before the tab died.
  await store.put([{ key: "p1", kind: "photo", fields: { inspection: "a" }, bytes: new ArrayBuffer(1) }]);
  await tend(null);
  const [, ...photos] = await store.list();
  assert.deepEqual(photos.map(({ key, revision, fields }) => [key, revision, fields.inspection, fields.finding_sign]), [
    ["p1", 1, "a", undefined], ["p2", 1, "a", ""],
  ]);
  assert.deepEqual(new Uint8Array(await store.bytesOf("p2")), new Uint8Array([2]));
  assert.deepEqual([await drafts.list(VERA), sent(), page.notices], [[], 1, []]);
  await tend(null);
  assert.equal((await store.list()).length, 3);
});

test("photos for which there is no room stay in the draft, and are told", async (context) => {
  const { drafts, store, page, tend, sent } = await aSavedDraft();
  const { put } = IDBObjectStore.prototype;
  context.mock.method(IDBObjectStore.prototype, "put", function full(...what) {
    if (this.name === "bytes") throw new DOMException("full", "QuotaExceededError");
    return put.apply(this, what);
  });
  await tend(null);
  assert.equal((await store.list()).length, 1);
  const [draft] = await drafts.list(VERA);
  assert.deepEqual(draft.pictures.map(({ photo }) => photo), ["p1", "p2"]);
  assert.equal(page.notices[0].children[0].children[0].children[0], "2 photos of your look at A-1 are not saved yet.");
  assert.equal(sent(), 0);
  context.mock.restoreAll();
  await tend(null);
  const [, photo] = await store.list();
  assert.deepEqual([photo.key, photo.fields.finding_sign, (await drafts.list(VERA)).length], ["p1", "sucker", 0]);
});

test("the copy of a picture that is kept as a photo goes, and no other", async () => {
  const drafts = openDrafts({ factory: new IDBFactory() });
  await drafts.show(about(), "photos", [{ ...picture(1), photo: "p1" }, { ...picture(2), photo: "p2" }]);
  const [before] = await drafts.list(VERA);
  const taken = await drafts.take("a", "p1");
  const [after] = await drafts.list(VERA);
  assert.deepEqual(after.pictures.map(({ photo }) => photo), ["p2"]);
  assert.deepEqual((await drafts.picturesOf(before)).map(({ bytes }) => bytes?.byteLength), [undefined, 1]);
  // Where it was of no use the copy comes back.
  await drafts.giveBack("a", taken);
  const [again] = await drafts.list(VERA);
  const pictures = await drafts.picturesOf(again);
  assert.deepEqual(pictures.map(({ photo, bytes }) => [photo, ...new Uint8Array(bytes)]), [["p2", 2], ["p1", 1]]);
  assert.equal((await drafts.take("a")).length, 2);
  assert.deepEqual(await drafts.take("never was", "p1"), []);
});

test("a page on which a look was begun before does not write over one that goes on with it", async () => {
  const drafts = openDrafts({ factory: new IDBFactory() });
  assert.equal(await drafts.say(about({ holder: "one" }), [["note", "x"]]), true);
  await drafts.hold("a", "two");
  assert.equal(await drafts.say(about({ holder: "two" }), [["note", "x, y"]]), true);
  assert.equal(await drafts.say(about({ holder: "one" }), [["note", "z"]]), false);
  assert.equal(await drafts.show(about({ holder: "one" }), "photos", [picture(1)]), false);
  const [draft] = await drafts.list(VERA);
  assert.deepEqual([draft.said, draft.pictures], [[["note", "x, y"]], []]);
});

test("a page that goes away still keeps what it was about to keep", async () => {
  const drafts = openDrafts({ factory: new IDBFactory() });
  await drafts.list(VERA);
  const saying = drafts.say(about(), [["note", "x"]]);
  await new Promise((go) => { setTimeout(go, 0); });
  drafts.leave();
  assert.equal(await saying, true);
  assert.equal((await drafts.list(VERA)).length, 1);
});

test("a photo that finds no room is kept in place of its copy, or the copy stays", async () => {
  const drafts = openDrafts({ factory: new IDBFactory() });
  await drafts.show(about(), "photos", [{ ...picture(1), photo: "p1" }]);
  const { without } = makeBegun({ page: aPage(), drafts, store: {}, recordOf: () => ({}) });
  await assert.rejects(without("a", "p1", async () => { throw new RangeError("full"); }), RangeError);
  const [draft] = await drafts.list(VERA);
  assert.deepEqual(draft.pictures.map(({ photo }) => photo), ["p1"]);
  // A record that needs the room leaves the copies where they were.
  assert.equal(await without("a", null, async () => (await drafts.list(VERA))[0].pictures.length), 0);
  assert.equal((await drafts.list(VERA))[0].pictures.length, 1);
  assert.equal(await without("a", "p1", async () => (await drafts.list(VERA))[0].pictures.length), 0);
  assert.deepEqual((await drafts.list(VERA))[0].pictures, []);

  const kept = [];
  let isFull = true;
  const store = {
    async put([one]) {
      if (isFull) throw Object.assign(new Error(), { full: true });
      kept.push(one.fields.file_name);
    },
  };
  const files = [{ file: new File([new Uint8Array([1])], "a.jpg"), sign: "" }];
  const makeRoom = (file, work) => {
    isFull = false;
    return work();
  };
  assert.deepEqual(await keepPhotos(files, { store, kept: new Set(), about: { by: {} }, without: makeRoom }), []);
  assert.deepEqual(kept, ["a.jpg"]);
});

test("every look that was begun is offered, those beyond the first under one line", async () => {
  const drafts = openDrafts({ factory: new IDBFactory() });
  for (const key of ["a", "b", "c", "d", "e"]) await drafts.say(about({ key }), [["note", key]]);
  const page = aPage();
  const store = openOutbox({ factory: new IDBFactory() });
  await makeBegun({ page, drafts, store, recordOf: () => ({}) }).tend(null);
  assert.equal(page.notices.length, 2);
  const [summary, ...more] = page.notices[1].children;
  assert.deepEqual([summary.children[0], more.length], ["4 more unfinished looks", 4]);
});

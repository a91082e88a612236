// What is begun and not saved, on a played disk: whose it is, and that nothing of it stays
// when it is over.
import assert from "node:assert/strict";
import { test } from "node:test";
import { IDBFactory, IDBObjectStore } from "../quality/node_modules/fake-indexeddb/build/esm/index.js";
import { makeBegun } from "../../static/js/outbox/begun.js";
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
  await drafts.drop("a", "p1");
  const [after] = await drafts.list(VERA);
  assert.deepEqual(after.pictures.map(({ photo }) => photo), ["p2"]);
  assert.deepEqual((await drafts.picturesOf(before)).map(({ bytes }) => bytes?.byteLength), [undefined, 1]);
  await drafts.drop("never was", "p1");
});

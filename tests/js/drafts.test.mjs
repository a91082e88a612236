// What is begun and not saved, on a played disk: whose it is, and that nothing of it stays
// when it is over.
import assert from "node:assert/strict";
import { test } from "node:test";
import { IDBFactory } from "../quality/node_modules/fake-indexeddb/build/esm/index.js";
import { openDrafts } from "../../static/js/outbox/drafts.js";

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

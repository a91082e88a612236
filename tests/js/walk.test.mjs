// The next tree of a round, as the phone alone knows it.
import assert from "node:assert/strict";
import { test } from "node:test";

import { addressOf, nextOf, notedHere } from "../../static/js/walk.js";

const SINCE = "2026-05-12T08:00:00.000Z";
const HERE = { orchard: "alderbrook", round: "3", person: 7, since: SINCE };
const look = (tree, more = {}) => ({
  kind: "inspection",
  orchard: "alderbrook",
  person: 7,
  made_at: "2026-05-12T07:00:00.000Z",
  fields: { tree, round: "3" },
  ...more,
});
const news = (tree, more = {}) => ({
  kind: "inspection", orchard: "alderbrook", person: 7, tree, at: "2026-05-12T09:00:00+00:00", ...more,
});
const noted = (entries, told = []) => [...notedHere(entries, told, HERE).noted];
const photographed = (entries, told = []) => [...notedHere(entries, told, HERE).photographed];

test("what waits in the outbox for this round is noted", () => {
  assert.deepEqual(noted([look("A-1"), look("A-2", { state: "refused" })]), ["A-1", "A-2"]);
});

test("a look without a round counts when it is newer than the page", () => {
  const fields = { tree: "A-1" };
  assert.deepEqual(noted([look("A-1", { fields })]), []);
  assert.deepEqual(noted([look("A-1", { fields, made_at: "2026-05-12T08:30:00.000Z" })]), ["A-1"]);
});

test("photos, other orchards and other people are not looks of this walker", () => {
  for (const other of [{ kind: "photo" }, { orchard: "southbank" }, { person: 8 }]) {
    assert.deepEqual(noted([look("A-1", other)]), []);
    assert.deepEqual(noted([], [news("A-1", other)]), []);
  }
});

test("what was delivered since the page was made is noted too", () => {
  assert.deepEqual(noted([], [news("A-1"), news("", {})]), ["A-1"]);
  assert.deepEqual(noted([], [news("A-1", { at: "2026-05-12T07:59:59+00:00" })]), []);
  // The same moment, told by another clock of the world.
  assert.deepEqual(noted([], [news("A-1", { at: "2026-05-12T10:00:00+02:00" })]), ["A-1"]);
});

test("a tree of which there is a photo without a word is still to be looked at", () => {
  const alone = look("A-1", { fields: { tree: "A-1", round: "3", photos_follow: true } });
  assert.deepEqual([noted([alone]), photographed([alone])], [[], ["A-1"]]);
  const sent = news("A-1", { photo_only: true });
  assert.deepEqual([noted([], [sent]), photographed([], [sent])], [[], ["A-1"]]);
  assert.deepEqual(noted([look("A-1")], [sent]), ["A-1"]);
});

test("the next tree is the first that is not noted", () => {
  assert.equal(nextOf(["A-1", "A-2", "A-3"], new Set(["A-1", "A-3"])), "A-2");
  assert.equal(nextOf(["A-1"], new Set(["A-1"])), null);
  assert.equal(nextOf([], new Set()), null);
});

test("an address is made into that of the other tree and nothing else changes", () => {
  assert.equal(
    addressOf("/alderbrook/trees/A-1/inspections/new/?round=3", "A-1", "A 2/b"),
    "/alderbrook/trees/A%202%2Fb/inspections/new/?round=3",
  );
  assert.equal(addressOf("/alderbrook/trees/A-10/", "A-1", "A-2"), "/alderbrook/trees/A-10/");
});

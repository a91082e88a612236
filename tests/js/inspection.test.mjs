// Looking up a verdict on the phone, with a small table made by hand.
import assert from "node:assert/strict";
import { test } from "node:test";

import { completed, place, verdictOf, worthAsking } from "../../static/js/inspections/outcomes.js";

const says = ["Few.", "Many.", "Ants guard them."];
// pct: 0, above 0 and under 25, 25 and more; ants: yes, no. The last of each: open.
const sign = {
  asks: [["pct", [[0, 0, 3], [0, 25, 0], [25, 100, 3]]], ["ants", ["yes", "no"]]],
  said: [["l", null, null, 0], ["a", 7, 14, 1], ["a", 3, 7, 2], ["w", null, 7, "?ants"]],
  table: "000" + "203" + "111" + "333",
};

test("a number falls into the one band that holds it, ends included or not", () => {
  const [, options] = sign.asks[0];
  assert.equal(place(options, 0), 0);
  assert.equal(place(options, 0.1), 1);
  assert.equal(place(options, 24.9), 1);
  assert.equal(place(options, 25), 2);
  assert.equal(place(options, 100), 2);
  assert.equal(place(options, 101), 3);
  assert.equal(place(options, null), 3);
});

test("the verdict is looked up by all answers, open ones too", () => {
  assert.equal(verdictOf(sign, { pct: 0 }, says).verdict, "l");
  assert.deepEqual(verdictOf(sign, { pct: 30, ants: "no" }, says).because, ["Many."]);
  const open = verdictOf(sign, { pct: 10 }, says);
  assert.deepEqual([open.verdict, open.missing, open.because], ["w", "ants", []]);
  assert.equal(verdictOf(sign, { pct: 10, ants: "?" }, says).missing, "ants");
});

test("what is earned stands beside the answer that is missing, under its own plan", () => {
  const earned = { ...sign, said: [["a", 7, 14, 1, "+2", "?ants"], ["w", null, 30, "#1"]], table: "0".repeat(11) + "1" };
  const act = verdictOf(earned, { pct: 30 }, says);
  assert.deepEqual([act.verdict, act.plan, act.missing, act.because], ["a", 2, "ants", ["Many."]]);
  assert.deepEqual(verdictOf(earned, {}, says).because, []);
  const mild = verdictOf(earned, {}, says, ["Zero.", "One."]);
  assert.deepEqual([mild.because, mild.plan, mild.missing], [["One."], 0, null]);
});

test("only what can still change the verdict is asked", () => {
  assert.deepEqual(worthAsking(sign, { pct: 0 }), ["pct"]);
  assert.deepEqual(worthAsking(sign, { pct: 10 }), ["pct", "ants"]);
  assert.deepEqual(worthAsking(sign, { pct: 30 }), ["pct"]);
});

test("a number on record tells the trend, and a second worse look its own table", () => {
  const again = { ...sign, before: 10, worse: { ...sign, said: [["w", null, 14, 1]], table: "0".repeat(12) } };
  assert.equal(completed(again, { pct: 12 }).trend, "worse");
  assert.equal(completed(again, { pct: 10 }).trend, "same");
  assert.equal(completed(again, { pct: 2 }).trend, "better");
  assert.equal(completed(again, {}).trend, undefined);
  assert.equal(verdictOf(again, { pct: 30 }, says).verdict, "w");
  assert.equal(verdictOf(again, { pct: 5, ants: "yes" }, says).verdict, "a");
});

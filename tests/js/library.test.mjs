// The library's boxes: arrows from one to the next, and a row of them at once.
import assert from "node:assert/strict";
import { test } from "node:test";
import { between, stepTo } from "../../static/js/library.js";

const BOXES = ["a", "b", "c", "d", "e"];

test("arrows lead to the neighbour, and up and down by a row", () => {
  assert.equal(stepTo(BOXES, 1, "ArrowRight", 3), "c");
  assert.equal(stepTo(BOXES, 1, "ArrowLeft", 3), "a");
  assert.equal(stepTo(BOXES, 1, "ArrowDown", 3), "e");
  assert.equal(stepTo(BOXES, 4, "ArrowUp", 3), "b");
});

test("at the edge, and by other keys, nothing moves", () => {
  assert.equal(stepTo(BOXES, 0, "ArrowLeft", 3), null);
  assert.equal(stepTo(BOXES, 4, "ArrowDown", 3), null);
  assert.equal(stepTo(BOXES, 1, "Enter", 3), null);
});

test("a row goes from one to the other, whichever comes first", () => {
  assert.deepEqual(between(BOXES, 1, 3), ["b", "c", "d"]);
  assert.deepEqual(between(BOXES, 3, 1), ["b", "c", "d"]);
  assert.deepEqual(between(BOXES, 2, 2), ["c"]);
});

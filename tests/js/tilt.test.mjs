// The horizon page takes its angles from the phone's tilt and heading.
import assert from "node:assert/strict";
import test from "node:test";

import { angleUp, heading, nearest } from "../../static/js/tilt.js";

test("a phone held level points at the level horizon", () => {
  assert.equal(angleUp(0), 0);
});

test("a phone pointed upwards gives its angle, and never less than level", () => {
  assert.equal(angleUp(37), 37);
  assert.equal(angleUp(-12), 0);
  assert.equal(angleUp(90), 90);
  assert.equal(angleUp(120), 60);
});

test("a heading is read from either kind of device, or is not known", () => {
  assert.equal(heading({ webkitCompassHeading: 90 }), 90);
  assert.equal(heading({ absolute: true, alpha: 90 }), 270);
  assert.equal(heading({ absolute: false, alpha: 90 }), null);
  assert.equal(heading({ absolute: true, alpha: null }), null);
});

test("a heading goes to the nearest of sixteen directions, round north too", () => {
  assert.equal(nearest(0), 0);
  assert.equal(nearest(11), 0);
  assert.equal(nearest(12), 1);
  assert.equal(nearest(180), 8);
  assert.equal(nearest(355), 0);
});

// People's own words find their sign on the phone, as they do on the server.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";

import { findKeys } from "../../static/js/inspections/sign_search.js";
import * as index from "../../static/js/inspections/sign_words.js";

const said = JSON.parse(readFileSync(new URL("../science/data/descriptions.json", import.meta.url)));
const SHOWN_FIRST = 4;

for (const [words, sign] of said) {
  test(`${words}: ${sign} is among the first pictures`, () => {
    const found = findKeys(words, index);
    assert.ok(found.slice(0, SHOWN_FIRST).includes(sign), found.join(" "));
  });
}

test("only the signs of the tree are found, and nothing fits nonsense", () => {
  assert.deepEqual(findKeys("sticky black leaves", index, ["snails"]), []);
  assert.deepEqual(findKeys("xqzw", index), []);
  assert.deepEqual(findKeys("", index), []);
});

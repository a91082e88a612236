import { test } from "node:test";
import assert from "node:assert/strict";
import { lineOf } from "../../static/js/folds.js";

const named = (name, label, more) => ({
  name, type: "text", tagName: "INPUT", value: "", dataset: {}, labels: [{ firstChild: { textContent: `\n ${label} ` } }], ...more,
});
const number = (name, label, value, more) => named(name, label, { type: "number", value, ...more });
const chosen = (name, label, text) => named(name, label, {
  type: "select-one", tagName: "SELECT", value: text, selectedOptions: [{ textContent: text }],
});

test("a number stands before its unit, and behind its name where it has none", () => {
  const fields = [
    number("size", "Size treated", "12"), chosen("size_unit", "Unit", "trees"),
    number("wind_kmh", "Wind, km/h", "8"), chosen("wind_from", "Wind from", "NW"),
  ];
  assert.equal(lineOf(fields), "12 trees, Wind, km/h: 8, NW");
});

test("a unit without its number says nothing", () => {
  const fields = [number("total", "Used in all", ""), chosen("total_unit", "Unit", "mL")];
  assert.equal(lineOf(fields), "");
});

test("what the record needs and is empty is named", () => {
  const fields = [
    number("wind_kmh", "Wind, km/h", "", { dataset: { asked: "" } }),
    chosen("wind_from", "Wind from", "NW"),
  ];
  assert.equal(lineOf(fields), "NW. Needed: Wind, km/h");
});

test("a ticked box is its own words", () => {
  const box = named("rain", "", { type: "checkbox", checked: true, closest: () => ({ textContent: " Rain is forecast " }) });
  assert.equal(lineOf([box]), "Rain is forecast");
});

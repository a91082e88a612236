// The questions of a sign, its photo and its doubt, made when somebody chooses it: a form
// has more than a hundred signs, of which a look touches one or two.
import { make } from "../dom.js";

// The question in words is the guide's; some signs ask for a fact in their own.
function labelOf(key, fact, { facts, signs, us }, units) {
  const label = signs[`${key}:${fact}`] ?? facts[fact] ?? fact.replaceAll("_", " ");
  return (units === "us" && us[label]) || label;
}

export function addAsks(box, sign, words, texts, units) {
  if (box.querySelector("[data-fact], .a-file")) return;
  const key = box.dataset.sign;
  const said = box.querySelector("[data-said]");
  said.before(...sign.asks.map(([fact, values, shape]) => {
    const label = labelOf(key, fact, texts, units);
    return Array.isArray(shape) ? numberAsk(key, fact, label, shape) : choiceAsk(key, fact, label, values, shape, words);
  }));
  said.after(
    whoDoesIt(key, words),
    make("label", { class: "button a-file" }, make("span", {}, words.photo), make("input", {
      type: "file", name: `${key}:photo`, accept: "image/*", capture: "environment",
    })),
    make("label", { class: "check unsure" }, make("input", {
      type: "checkbox", name: `${key}:unsure`, value: "1",
    }), make("span", {}, words.unsure)),
  );
}

// What is to be done may have been done at once, and is then no task of anybody's.
function whoDoesIt(key, words) {
  const tiles = [["", words.somebody], ["1", words.done]].map(([value, label]) => make(
    "label",
    { class: "tile" },
    make("input", { type: "radio", name: `${key}:done`, value, checked: value === "" }),
    make("span", { class: "tile-face" }, label),
  ));
  return make(
    "fieldset",
    { class: "field", "data-done": true, hidden: true },
    make("legend", { class: "out-of-sight" }, words.who),
    make("div", { class: "tiles short" }, ...tiles),
  );
}

function numberAsk(key, fact, label, [unit, step, zero, whole]) {
  const name = `${key}:${fact}`;
  const field = make("input", {
    id: name,
    name,
    type: "text",
    inputmode: whole ? "numeric" : "decimal",
    autocomplete: "off",
    ...(step === 1 && zero === 0 ? {} : { "data-step": step, "data-zero": zero }),
  });
  return make(
    "div",
    { class: "field ask", "data-fact": fact },
    make("label", { for: name }, label),
    make("div", { class: "with-unit" }, field, make("span", {}, unit)),
  );
}

function choiceAsk(key, fact, label, values, labels, words) {
  const named = labels ? labels.split("|") : [words.yes, words.no];
  const tiles = [...values, "?"].map((value, n) => make(
    "label",
    { class: "tile" },
    make("input", { type: "radio", name: `${key}:${fact}`, value }),
    make("span", { class: "tile-face" }, named[n] ?? words.cannotTell),
  ));
  return make(
    "fieldset",
    { class: "field ask", "data-fact": fact },
    make("legend", {}, label),
    make("div", { class: labels ? "tiles" : "tiles short" }, ...tiles),
  );
}

// Folds of a long form: the line of each says what it holds, as orchard/web/folds.py does;
// what the browser finds wrong is opened before it speaks of it.
import { told } from "./dom.js";
import { gettext } from "./words.js";

const FIELDS = "input:not([type=hidden]), select, textarea";
const BARE = ["number", "date"];

const labelOf = (field) => (field.labels?.[0]?.firstChild?.textContent ?? "").trim();

// What a field holds, as people read it; "" for nothing.
export function wordsOf(field) {
  if (field.type === "checkbox" || field.type === "radio") {
    return field.checked ? field.closest("label").textContent.trim() : "";
  }
  if (field.type === "file") return field.files.length ? String(field.files.length) : "";
  if (!field.value) return "";
  if (field.type === "datetime-local") return told(field.value);
  return field.tagName === "SELECT" ? field.selectedOptions[0].textContent.trim() : field.value;
}

const isUnitOf = (field, number) => field?.tagName === "SELECT"
  && field.name.endsWith("unit") && number.type === "number";

// What fields hold in one line: a number before its unit, or behind its name.
export function lineOf(fields) {
  const parts = [];
  for (const [at, field] of fields.entries()) {
    const words = wordsOf(field);
    if (isUnitOf(field, fields[at - 1] ?? {})) continue;
    if (!words) continue;
    if (isUnitOf(fields[at + 1], field)) parts.push(`${words} ${wordsOf(fields[at + 1])}`.trim());
    else if (BARE.includes(field.type)) parts.push(`${labelOf(field)}: ${words}`);
    else parts.push(words);
  }
  const lacking = fields.filter((field) => "asked" in field.dataset && !wordsOf(field)).map(labelOf);
  const needed = lacking.length ? gettext("Needed: %(what)s", { what: lacking.join(", ") }) : "";
  return [parts.join(", "), needed].filter(Boolean).join(". ");
}

function isChanged(field) {
  if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
  if (field.tagName !== "SELECT") return field.value !== field.defaultValue;
  const first = [...field.options].find((one) => one.defaultSelected) ?? field.options[0];
  return field.value !== first?.value;
}

function tend(page) {
  const first = new Map();
  const say = (fold) => {
    const line = fold.querySelector(":scope > summary > [data-says]");
    if (!line) return;
    if (!first.has(line)) first.set(line, line.textContent);
    const fields = [...fold.querySelectorAll(FIELDS)];
    line.textContent = fields.some(isChanged) ? lineOf(fields) : first.get(line);
  };
  const sayAll = (inside) => inside.querySelectorAll("details").forEach(say);
  page.addEventListener("change", ({ target }) => {
    for (let fold = target.closest("details"); fold; fold = fold.parentElement.closest("details")) say(fold);
  });
  page.addEventListener("reset", ({ target }) => setTimeout(() => sayAll(target)));
  page.addEventListener("toggle", ({ target }) => {
    if (!target.matches("form details")) return;
    say(target);
    // The part before it has closed: it goes on from its own line.
    if (target.open && target.getBoundingClientRect().top < 0) target.scrollIntoView();
  }, true);
  let isOpening = false;
  page.addEventListener("invalid", ({ target }) => {
    if (isOpening) return;
    isOpening = true;
    setTimeout(() => { isOpening = false; });
    for (let fold = target.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  }, true);
}

if (globalThis.document) tend(document);

// One sign on the form: it asks only what is worth asking and says its verdict at once.
import { addAsks } from "./asks.js";
import { verdictOf, worthAsking } from "./outcomes.js";

// Numbers to tap instead of type, with gloves on.
const QUICK = {
  "%": [0, 5, 10, 25, 50, 75],
  "": [0, 1, 2, 5, 10, 20],
  hours: [0, 6, 12, 24, 48, 72],
  days: [0, 1, 3, 7, 14, 30],
  cm: [0, 1, 2, 5, 10, 20],
  in: [0, 0.5, 1, 2, 4, 8],
  "of the circle": [0, 0.1, 0.25, 0.5, 0.75, 1],
};
// A hole in the bark is judged by millimetres.
const QUICK_FOR = {
  hole_cm: { cm: [0, 0.2, 0.4, 0.6, 1, 1.5], in: [0, 0.1, 0.2, 0.25, 0.4, 0.6] },
};

export function tendSign(box, sign, says, page, cards, look, texts) {
  const tick = box.querySelector('[name="sign"]');
  addAsks(box, sign, page.getElementById("words").dataset, texts, box.closest("form").elements.units.value);
  const asks = [...box.querySelectorAll("[data-fact]")];
  for (const ask of asks) addQuick(ask, page);
  const tell = () => {
    if (!tick.checked) return;
    const own = Object.fromEntries(asks.map((ask) => [ask.dataset.fact, answerOf(ask)]));
    const elsewhere = fromOthers(box, look);
    const answers = { ...own, ...elsewhere };
    const worth = worthAsking(sign, answers);
    const first = answers[sign.asks[0]?.[0]];
    asks.forEach((ask, n) => {
      const { fact } = ask.dataset;
      ask.hidden = fact in elsewhere || (n > 0 && (isOpen(first) || !worth.includes(fact)));
    });
    const counted = { ...visible(asks, own), ...elsewhere };
    say(box, isOpen(first) ? null : verdictOf(sign, counted, says, reasonsOf(box)), page);
  };
  const heard = () => {
    share(box, tick, asks, look);
    for (const each of look.tells) each();
  };
  look.tells.push(tell);
  box.addEventListener("input", heard);
  box.addEventListener("change", heard);
  heard();
  showCard(box, cards, page).then(tell);
}

// What was answered about the tree under another sign.
function fromOthers(box, look) {
  const others = [...look.answers].filter(([, { from }]) => from !== box);
  return Object.fromEntries(others.map(([fact, { answer }]) => [fact, answer]));
}

// A question about the tree is asked once: its answer serves every sign of the look.
function share(box, tick, asks, look) {
  for (const ask of asks) {
    const { fact } = ask.dataset;
    const before = look.answers.get(fact);
    if (!look.facts.has(fact) || (before && before.from !== box)) continue;
    const answer = tick.checked && !ask.hidden ? answerOf(ask) : null;
    if (isOpen(answer)) look.answers.delete(fact);
    else look.answers.set(fact, { from: box, answer });
  }
}

// The reasons of the rules that came with the card.
function reasonsOf(box) {
  return JSON.parse(box.querySelector("[data-do]")?.dataset.reasons ?? "[]");
}

// Pictures, look-alikes and steps come when a sign is chosen: the form stays light.
async function showCard(box, cards, page) {
  const place = box.querySelector("[data-card]");
  if (box.querySelector("[data-do]")) return;
  try {
    const answer = await fetch(cards.replace("SIGN", box.dataset.sign));
    if (!answer.ok) throw new Error(answer.status);
    const card = page.createRange().createContextualFragment(await answer.text());
    steady(box, page);
    box.querySelector("[data-said]").after(card.querySelector("[data-do]"));
    box.querySelector(".sign-more").append(card.querySelector("[data-where]"));
    place.replaceChildren(card);
  } catch {
    steady(box, page);
    const line = page.createElement("p");
    line.className = "soft";
    line.textContent = page.getElementById("words").dataset.offline;
    place.append(line);
    box.querySelector(".sign-more").append(aNote(box.dataset.sign, page));
  }
}

// What comes late comes above the questions: where somebody stands stays where it is.
function steady(box, page) {
  const stood = page.activeElement;
  if (!box.contains(stood)) return;
  const before = stood.getBoundingClientRect().top;
  page.defaultView.requestAnimationFrame(() => {
    page.defaultView.scrollBy({ top: stood.getBoundingClientRect().top - before, behavior: "instant" });
  });
}

// The card would have brought the place and the note; without signal the note will do.
function aNote(sign, page) {
  const field = page.createElement("div");
  field.className = "field";
  const label = page.createElement("label");
  const note = page.createElement("textarea");
  label.textContent = page.querySelector('label[for="note"]').textContent;
  label.htmlFor = note.id = note.name = `${sign}:note`;
  note.maxLength = 4000;
  field.append(label, note);
  return field;
}

const isOpen = (answer) => answer === null || answer === "" || answer === undefined;

// What is no longer asked does not count.
function visible(asks, answers) {
  const kept = {};
  for (const ask of asks) {
    for (const field of ask.querySelectorAll("input")) field.disabled = ask.hidden;
    if (!ask.hidden) kept[ask.dataset.fact] = answers[ask.dataset.fact];
  }
  return kept;
}

function answerOf(ask) {
  const typed = ask.querySelector('input[type="text"]');
  if (!typed) return ask.querySelector("input:checked")?.value ?? null;
  const text = typed.value.replace(",", ".").replace("%", "").trim();
  if (text === "" || Number.isNaN(Number(text))) return null;
  const { step = 1, zero = 0 } = typed.dataset;
  return Math.round((Number(text) - Number(zero)) * Number(step) * 10000) / 10000;
}

function addQuick(ask, page) {
  const typed = ask.querySelector('input[type="text"]');
  const numbers = typed && (QUICK_FOR[ask.dataset.fact] ?? QUICK)[typed.nextElementSibling.textContent.trim()];
  if (!numbers) return;
  const row = page.createElement("div");
  row.className = "quick";
  for (const number of numbers) {
    const button = page.createElement("button");
    button.type = "button";
    button.className = "button";
    button.textContent = number;
    button.addEventListener("click", () => {
      typed.value = number;
      typed.dispatchEvent(new Event("input", { bubbles: true }));
    });
    row.append(button);
  }
  typed.parentElement.after(row);
}

function say(box, found, page) {
  // The form for any tree knows too little of its tree for another verdict.
  const isKnown = !("onlyReports" in box.closest("form").dataset) || found?.verdict === "r";
  const shown = isKnown ? found : null;
  const panel = box.querySelector("[data-said]");
  const todo = box.querySelector("[data-do]");
  panel.hidden = !shown;
  panel.dataset.verdict = shown?.verdict ?? "";
  panel.dataset.missing = shown?.missing ?? "";
  if (todo) todo.hidden = !shown;
  offerDone(box, shown);
  const ring = page.querySelector("[data-ring]");
  if (ring) ring.hidden = !page.querySelector('[data-said][data-verdict="r"]:not([hidden])');
  if (!shown) return;
  for (const plan of todo?.querySelectorAll("[data-plan]") ?? []) {
    plan.hidden = Number(plan.dataset.plan) !== shown.plan;
    const steps = plan.querySelector("[data-steps]");
    if (steps) steps.hidden = !"ar".includes(shown.verdict);
  }
  panel.replaceChildren(page.getElementById(`mark-${shown.verdict}`).content.cloneNode(true));
  for (const text of [days(shown, page), missing(box, shown, page), ...shown.because]) {
    if (!text) continue;
    const line = page.createElement("p");
    line.textContent = text;
    if (shown.because.includes(text)) line.className = "because";
    panel.append(line);
  }
}

// Only what is to be done, and what no hold forbids, may have been done just now.
function offerDone(box, shown) {
  const who = box.querySelector("[data-done]");
  if (!who) return;
  const plan = shown && box.querySelector(`[data-plan="${shown.plan}"]`);
  who.hidden = shown?.verdict !== "a" || Boolean(plan && "putOff" in plan.dataset);
  who.disabled = who.hidden;
}

function missing(box, { missing: fact }, page) {
  if (!fact) return "";
  const asked = box.querySelector(`[data-fact="${fact}"] > :is(legend, label)`);
  return `${page.getElementById("words").dataset.missing} ${asked?.textContent ?? fact}`;
}

function days({ verdict, due, recheck }, page) {
  const words = page.getElementById("words").dataset;
  const counted = (name, n) => (n === 1 ? words[`${name}1`] : words[name].replace("{n}", n));
  const told = [];
  if (verdict === "a") told.push(due === 0 ? words.today : counted("act", due));
  if (verdict === "r") told.push(counted("report", due));
  if (recheck !== null) told.push(counted("look", recheck));
  return told.join(" ");
}

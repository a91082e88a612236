// Practice without signal, on a page of one card: what is said, counted and sent.
import assert from "node:assert/strict";
import { test } from "node:test";
import { read, written } from "../../static/js/outbox/files.js";
import { answerEntry, boxAfter, boxOf, placeOf, recall, tendPractice } from "../../static/js/practice.js";

const MORNING = new Date(2026, 4, 12, 9, 0);
const YESTERDAY = new Date(2026, 4, 11, 9, 0);
const NEXT_DAY = new Date(2026, 4, 13, 9, 0);
const VERA = { person: "7", personName: "Vera", orchard: "alderbrook" };

function aMemory(full = false) {
  const kept = new Map();
  return {
    getItem: (place) => kept.get(place) ?? null,
    setItem: (place, text) => {
      if (full) throw new DOMException("full", "QuotaExceededError");
      kept.set(place, text);
    },
  };
}

// Two sets of choices, as the page has them: easy ones first, look-alikes from box 3 on.
function aCard(sign, box = 1) {
  const card = { dataset: { sign, box: String(box) }, line: { hidden: true, textContent: "" }, chosen: null };
  card.asked = [["1", "drawing"], ["3", "alike"]].map(([fromBox, level]) => (
    { dataset: { fromBox, level }, hidden: fromBox !== "1", querySelector: () => card.chosen }
  ));
  card.querySelectorAll = () => card.asked;
  card.level = () => card.asked.filter(({ hidden }) => !hidden).map(({ dataset }) => dataset.level).join();
  const details = { addEventListener: (_name, act) => { card.open = () => act({ target: { open: true } }); } };
  card.querySelector = (asked) => (
    asked === "fieldset:not([hidden])" ? card.asked.find(({ hidden }) => !hidden)
      : { ".outcome": card.line, details, "[data-next]": next, "fieldset:not([hidden]) input": { focus() {} } }[asked]
  );
  const next = { addEventListener: (_name, act) => { card.goOn = act; } };
  card.next = next;
  card.scrollIntoView = () => {};
  card.answer = (value) => {
    card.chosen = value ? { value } : null;
    return card.open();
  };
  return card;
}

function aPage(who, signs = ["sucker"], more = {}) {
  const cards = signs.map((sign) => aCard(sign, more.box));
  const score = { hidden: true, textContent: "" };
  const list = { dataset: { lastBox: "5", made: (more.made ?? YESTERDAY).toISOString() } };
  const page = {
    body: { dataset: who }, querySelector: (asked) => (asked === ".cards" ? list : score), querySelectorAll: () => cards,
  };
  const sent = [];
  const memory = more.memory ?? aMemory();
  tendPractice(page, { memory, clock: () => MORNING, send: async (entry) => { sent.push(entry); }, ...more });
  return { cards, score, sent, memory };
}

test("a right and a wrong answer are said, counted, and go to the outbox", async () => {
  const { cards, score, sent } = aPage(VERA, ["sucker", "leafminer"]);
  assert.equal(score.hidden, true);
  await cards[0].answer("sucker");
  await cards[1].answer("sucker");
  assert.deepEqual(cards.map(({ line }) => line.textContent), ["Right.", "Not quite: it is this one."]);
  assert.equal(score.textContent, "On this phone so far: 1 of 2 right.");
  assert.deepEqual(sent.map(({ kind, person, orchard, made_at }) => [kind, person, orchard, made_at]), Array(2).fill(
    ["practice", 7, "alderbrook", MORNING.toISOString()],
  ));
  assert.deepEqual(sent.map(({ fields }) => Object.fromEntries(fields.form).taken_for), ["sucker", "sucker"]);
  assert.notEqual(sent[0].key, sent[1].key);
});

test("one question stands there at a time, and the last calls no other", () => {
  const { cards } = aPage(VERA, ["sucker", "leafminer"]);
  const shown = () => cards.map(({ hidden }) => !hidden);
  assert.deepEqual([shown(), cards.map(({ next }) => next.hidden)], [[true, false], [false, true]]);
  cards[0].goOn();
  assert.deepEqual(shown(), [false, true]);
});

test("an answer read without choosing, or looked at twice, counts no more", async () => {
  const { cards: [card], score, sent } = aPage(VERA);
  await card.answer(null);
  assert.deepEqual([card.line.hidden, score.hidden, sent.length], [true, true, 0]);
  await card.answer("sucker");
  await card.answer("leafminer");
  assert.deepEqual([card.line.textContent, sent.length], ["Right.", 1]);
});

test("a sign counts once a day, on however many pages, and again the next", async () => {
  const memory = aMemory();
  const days = [MORNING, MORNING, NEXT_DAY];
  const sent = [];
  for (const day of days) {
    const { cards: [card] } = aPage(VERA, ["sucker"], { memory, clock: () => day, send: async (entry) => { sent.push(entry.made_at); } });
    await card.answer("sucker");
    assert.equal(card.line.textContent, "Right.");
  }
  assert.deepEqual(sent, [MORNING, NEXT_DAY].map((day) => day.toISOString()));
  assert.equal(recall(memory, placeOf(VERA)).asked, 2);
});

test("each person and each orchard has a score of its own on a shared phone", async () => {
  const memory = aMemory();
  const { cards: [card] } = aPage(VERA, ["sucker"], { memory });
  await card.answer("sucker");
  for (const who of [{ ...VERA, person: "8" }, { ...VERA, orchard: "hillside" }]) {
    const other = aPage(who, ["sucker"], { memory });
    assert.equal(other.score.hidden, true);
    await other.cards[0].answer("leafminer");
    assert.equal(other.score.textContent, "On this phone so far: 0 of 1 right.");
    assert.equal(other.sent.length, 1);
  }
  assert.equal(recall(memory, placeOf(VERA)).right, 1);
});

test("what waits on the phone tells nobody which sign it was, nor whether it was right", () => {
  const { title, page } = answerEntry(VERA, { sign: "sucker", taken: "leafminer", level: "drawing", now: MORNING });
  assert.deepEqual([title, page], ["Practice answer", undefined]);
});

test("an answer leaves in a file and comes back as it was", () => {
  const entry = answerEntry(VERA, { sign: "sucker", taken: "sucker", level: "alike", now: MORNING });
  assert.deepEqual(read(written([[entry, null]], MORNING.toISOString())), [entry]);
});

test("a phone that keeps nothing still says what was right, and that it doesn't count", async () => {
  const send = () => Promise.reject(new Error("no store"));
  const { cards: [card], score } = aPage(VERA, ["sucker"], { send });
  await card.answer("sucker");
  assert.equal(card.line.textContent, "Right. This phone can't keep the answer: it doesn't count.");
  assert.equal(score.hidden, true);
});

test("an answer is sent even where the score can't be remembered", async () => {
  const { cards: [card], sent } = aPage(VERA, ["sucker"], { memory: aMemory(true) });
  await card.answer("sucker");
  assert.deepEqual([card.line.textContent, sent.length], ["Right.", 1]);
});

test("a score of before, and one that is damaged, begin no new count by themselves", () => {
  const memory = aMemory();
  memory.setItem(placeOf(VERA), '{"asked": 4, "right": 3}');
  assert.deepEqual(recall(memory, placeOf(VERA)), { asked: 4, right: 3, signs: {} });
  memory.setItem(placeOf(VERA), "{");
  assert.deepEqual(recall(memory, placeOf(VERA)), { asked: 0, right: 0, signs: {} });
});

// What is answered on the days of a page that was made the day before the first of them.
async function answerDaily(answers, { box = 1, made = YESTERDAY } = {}) {
  const memory = aMemory();
  const levels = [];
  for (const [day, value] of answers.entries()) {
    const clock = () => new Date(2026, 4, 12 + day, 9, 0);
    const { cards: [card], sent } = aPage(VERA, ["sucker"], { memory, clock, box, made });
    levels.push(card.level());
    await card.answer(value);
    assert.equal(Object.fromEntries(sent[0].fields.form).level, levels.at(-1));
  }
  return levels;
}

test("without signal it grows harder: look-alikes after two right answers, easy again after a miss", async () => {
  const answers = ["sucker", "sucker", "sucker", "leafminer", "sucker", "sucker", "sucker"];
  assert.deepEqual(await answerDaily(answers), ["drawing", "drawing", "alike", "alike", "drawing", "drawing", "alike"]);
});

test("a sign begins in the box that the book has it in", async () => {
  assert.deepEqual(await answerDaily(["sucker", "sucker"], { box: 2 }), ["drawing", "alike"]);
  assert.deepEqual(await answerDaily(["leafminer", "sucker"], { box: 4 }), ["alike", "drawing"]);
});

test("of what was answered before the page was made the book knows better", () => {
  const own = { at: MORNING.toISOString(), box: 4 };
  assert.equal(boxOf(own, { box: 1, made: NEXT_DAY.toISOString() }), 1);
  assert.equal(boxOf(own, { box: 1, made: YESTERDAY.toISOString() }), 4);
  assert.equal(boxOf(undefined, { box: 2, made: YESTERDAY.toISOString() }), 2);
});

test("boxes on the phone go as those of the book", () => {
  // Leitner (1972), from memory, as in tests/science/test_practice.py.
  const after = (answers) => answers.reduce((box, isRight) => boxAfter(box, isRight, 5), 1);
  assert.deepEqual(
    [[], [true], Array(4).fill(true), Array(9).fill(true), [true, true, true, false], [false, true, true]].map(after),
    [1, 2, 5, 5, 1, 3],
  );
});

// Practice without signal, on a page of one card: what is said, counted and sent.
import assert from "node:assert/strict";
import { test } from "node:test";
import { read, written } from "../../static/js/outbox/files.js";
import { answerEntry, recall, placeOf, tendPractice } from "../../static/js/practice.js";

const MORNING = new Date(2026, 4, 12, 9, 0);
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

function aCard(sign) {
  const card = { dataset: { sign }, line: { hidden: true, textContent: "" }, chosen: null };
  const details = { addEventListener: (_name, act) => { card.open = () => act({ target: { open: true } }); } };
  card.querySelector = (asked) => ({ "input:checked": card.chosen, ".outcome": card.line, details }[asked]);
  card.answer = (value) => {
    card.chosen = value ? { value } : null;
    return card.open();
  };
  return card;
}

function aPage(who, signs = ["sucker"], more = {}) {
  const cards = signs.map(aCard);
  const score = { hidden: true, textContent: "" };
  const page = { body: { dataset: who }, querySelector: () => score, querySelectorAll: () => cards };
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
  const { title, page } = answerEntry(VERA, { sign: "sucker", taken: "leafminer", now: MORNING });
  assert.deepEqual([title, page], ["Practice answer", undefined]);
});

test("an answer leaves in a file and comes back as it was", () => {
  const entry = answerEntry(VERA, { sign: "sucker", taken: "sucker", now: MORNING });
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
  assert.deepEqual(recall(memory, placeOf(VERA)), { asked: 4, right: 3, days: {} });
  memory.setItem(placeOf(VERA), "{");
  assert.deepEqual(recall(memory, placeOf(VERA)), { asked: 0, right: 0, days: {} });
});

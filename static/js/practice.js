// Practice without signal: says whether the answer was right, and keeps it in the outbox,
// from where it counts in the person's own practice. A sign counts once a day, as often as
// it is answered; the score of this phone goes by the same. What was answered since the
// page was made moves a sign from box to box, as in the book, and so it is asked harder.
// Without this file all questions stand there, and the answers are read all the same.
import { gettext } from "./words.js";

export const placeOf = ({ person, orchard }) => `practice ${person} ${orchard}`;

// What this phone remembers of somebody's answers: { asked, right, signs: sign -> { at, box } }.
export function recall(memory, place) {
  try {
    return { asked: 0, right: 0, signs: {}, ...JSON.parse(memory.getItem(place)) };
  } catch {
    return { asked: 0, right: 0, signs: {} };
  }
}

function remember(memory, place, score) {
  try {
    memory.setItem(place, JSON.stringify(score));
  } catch {
    // A phone that keeps nothing still says what was right.
  }
}

const isSameDay = (at, now) => new Date(at).toDateString() === now.toDateString();

// The box of a sign: as the page has it, or as it was moved here since the page was made.
export const boxOf = (own, { box, made }) => (own && new Date(own.at) > new Date(made) ? own.box : box);

// As `box_after` of the book: one up, as far as the last, or back to the first.
export const boxAfter = (box, isRight, last) => (isRight ? Math.min(box + 1, last) : 1);

function count(memory, place, { sign, isRight, box, now }) {
  const { asked, right, signs } = recall(memory, place);
  remember(memory, place, {
    asked: asked + 1, right: right + (isRight ? 1 : 0), signs: { ...signs, [sign]: { at: now.toISOString(), box } },
  });
}

// The answer as an entry of the outbox. Its title is read by whoever holds the phone.
export function answerEntry({ person, personName, orchard }, { sign, taken, level, now, key = crypto.randomUUID() }) {
  return {
    key,
    kind: "practice",
    person: Number(person),
    person_name: personName,
    orchard,
    made_at: now.toISOString(),
    fields: { form: [["sign", sign], ["taken_for", taken], ["level", level]] },
    title: gettext("Practice answer"),
  };
}

async function sendByOutbox(entry) {
  const { changed, sender, store } = await import("./outbox/start.js");
  await store.put([entry]);
  changed();
  sender.nudge();
}

export function tendPractice(page, { memory = globalThis.localStorage, send = sendByOutbox, clock = () => new Date() } = {}) {
  const place = placeOf(page.body.dataset);
  const { lastBox, made } = page.querySelector(".cards").dataset;

  const boxNow = ({ sign, box }) => boxOf(recall(memory, place).signs[sign], { box: Number(box), made });

  // Of the choices, the hardest that the sign's box asks for.
  function ask(card) {
    const asked = [...card.querySelectorAll("fieldset")];
    const fit = asked.filter(({ dataset }) => Number(dataset.fromBox) <= boxNow(card.dataset)).at(-1);
    for (const each of asked) each.hidden = each !== fit;
  }

  function showScore() {
    const { asked, right } = recall(memory, place);
    const line = page.querySelector("[data-score]");
    line.hidden = asked === 0;
    line.textContent = gettext("On this phone so far: %(right)s of %(asked)s right.", { right, asked });
  }

  async function judge(card) {
    const asked = card.querySelector("fieldset:not([hidden])");
    const chosen = asked.querySelector("input:checked");
    const line = card.querySelector(".outcome");
    if (!chosen || !line.hidden) return;
    const { sign } = card.dataset;
    const isRight = chosen.value === sign;
    const now = clock();
    line.hidden = false;
    line.textContent = isRight ? gettext("Right.") : gettext("Not quite: it is this one.");
    const own = recall(memory, place).signs[sign];
    if (own && isSameDay(own.at, now)) return;
    try {
      await send(answerEntry(page.body.dataset, { sign, taken: chosen.value, level: asked.dataset.level, now }));
    } catch {
      line.textContent += ` ${gettext("This phone can't keep the answer: it doesn't count.")}`;
      return;
    }
    count(memory, place, { sign, isRight, box: boxAfter(boxNow(card.dataset), isRight, Number(lastBox)), now });
    showScore();
  }

  // One question at a time: the next is called from the answer to the one before.
  const cards = [...page.querySelectorAll(".card")];
  function show(shown) {
    for (const card of cards) card.hidden = card !== shown;
  }

  for (const [place, card] of cards.entries()) {
    const following = cards[place + 1];
    const next = card.querySelector("[data-next]");
    next.hidden = !following;
    next.addEventListener("click", () => {
      show(following);
      following.scrollIntoView();
      following.querySelector("fieldset:not([hidden]) input").focus({ preventScroll: true });
    });
    ask(card);
    card.querySelector("details").addEventListener("toggle", ({ target }) => (target.open ? judge(card) : null));
  }
  show(cards[0]);
  showScore();
}

if (globalThis.document) tendPractice(document);

// Practice without signal: says whether the answer was right, and keeps it in the outbox,
// from where it counts in the person's own practice. A sign counts once a day, as often as
// it is answered; the score of this phone goes by the same. Without this file the answers
// are read all the same.
import { gettext } from "./words.js";

export const placeOf = ({ person, orchard }) => `practice ${person} ${orchard}`;

// What this phone remembers of somebody's answers: { asked, right, days: sign -> day }.
export function recall(memory, place) {
  try {
    return { asked: 0, right: 0, days: {}, ...JSON.parse(memory.getItem(place)) };
  } catch {
    return { asked: 0, right: 0, days: {} };
  }
}

function remember(memory, place, score) {
  try {
    memory.setItem(place, JSON.stringify(score));
  } catch {
    // A phone that keeps nothing still says what was right.
  }
}

const dayOf = (now) => [now.getFullYear(), now.getMonth() + 1, now.getDate()].join("-");

function count(memory, place, { sign, isRight, now }) {
  const { asked, right, days } = recall(memory, place);
  remember(memory, place, { asked: asked + 1, right: right + (isRight ? 1 : 0), days: { ...days, [sign]: dayOf(now) } });
}

// The answer as an entry of the outbox. Its title is read by whoever holds the phone.
export function answerEntry({ person, personName, orchard }, { sign, taken, now, key = crypto.randomUUID() }) {
  return {
    key,
    kind: "practice",
    person: Number(person),
    person_name: personName,
    orchard,
    made_at: now.toISOString(),
    fields: { form: [["sign", sign], ["taken_for", taken], ["level", "drawing"]] },
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

  function showScore() {
    const { asked, right } = recall(memory, place);
    const line = page.querySelector("[data-score]");
    line.hidden = asked === 0;
    line.textContent = gettext("On this phone so far: %(right)s of %(asked)s right.", { right, asked });
  }

  async function judge(card) {
    const chosen = card.querySelector("input:checked");
    const line = card.querySelector(".outcome");
    if (!chosen || !line.hidden) return;
    const { sign } = card.dataset;
    const isRight = chosen.value === sign;
    const now = clock();
    line.hidden = false;
    line.textContent = isRight ? gettext("Right.") : gettext("Not quite: it is this one.");
    if (recall(memory, place).days[sign] === dayOf(now)) return;
    try {
      await send(answerEntry(page.body.dataset, { sign, taken: chosen.value, now }));
    } catch {
      line.textContent += ` ${gettext("This phone can't keep the answer: it doesn't count.")}`;
      return;
    }
    count(memory, place, { sign, isRight, now });
    showScore();
  }

  for (const card of page.querySelectorAll(".card")) {
    card.querySelector("details").addEventListener("toggle", ({ target }) => (target.open ? judge(card) : null));
  }
  showScore();
}

if (globalThis.document) tendPractice(document);

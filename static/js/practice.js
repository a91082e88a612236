// Practice without signal: says whether the answer was right, and keeps the score on this
// phone. Without it the answers are read all the same.
import { gettext } from "./words.js";

const { person, orchard } = document.body.dataset;
const PLACE = `practice ${person} ${orchard}`;

function recall() {
  try {
    return JSON.parse(localStorage.getItem(PLACE)) ?? {};
  } catch {
    return {};
  }
}

function remember(score) {
  try {
    localStorage.setItem(PLACE, JSON.stringify(score));
  } catch {
    // A phone that keeps nothing still says what was right.
  }
}

function showScore(page) {
  const { asked = 0, right = 0 } = recall();
  const line = page.querySelector("[data-score]");
  line.hidden = asked === 0;
  line.textContent = gettext("On this phone so far: %(right)s of %(asked)s right.", { right, asked });
}

function judge(card, page) {
  const chosen = card.querySelector("input:checked");
  const line = card.querySelector(".outcome");
  if (!chosen || !line.hidden) return;
  const isRight = chosen.value === card.dataset.sign;
  line.hidden = false;
  line.textContent = isRight ? gettext("Right.") : gettext("Not quite: it is this one.");
  const { asked = 0, right = 0 } = recall();
  remember({ asked: asked + 1, right: right + (isRight ? 1 : 0) });
  showScore(page);
}

for (const card of document.querySelectorAll(".card")) {
  card.querySelector("details").addEventListener("toggle", ({ target }) => {
    if (target.open) judge(card, document);
  });
}
showScore(document);

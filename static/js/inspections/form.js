// The inspection form: verdicts at once, signs found by word, the phone's clock kept.
import { fits } from "./outcomes.js";
import { tendSign } from "./sign.js";

function tendForm(page) {
  const form = page.querySelector("form[data-inspection]");
  if (!form) return;
  const { says, shared, signs } = JSON.parse(page.getElementById("outcomes").textContent);
  // What one sign was answered about the tree serves the others too.
  const look = { facts: new Set(shared), answers: new Map(), tells: [] };
  const boxes = [...form.querySelectorAll("[data-sign]")];
  for (const box of boxes) tendWhenChosen(box, signs, says, page, form.dataset.cards, look);
  openOthers(form, boxes);
  findByWord(form, boxes, page.getElementById("words").dataset);
  // Verdicts stand beside the answers already: nothing is left to be read first.
  form.querySelector("[data-read]")?.remove();
  // The return key would send the form half filled and lose the chosen photos.
  form.addEventListener("keydown", (press) => {
    if (press.key === "Enter" && press.target.matches("input")) press.preventDefault();
  });
  form.addEventListener("submit", () => {
    form.elements.made_at.value = new Date().toISOString();
  });
}

// Most signs are never opened: each is wired when it is first chosen.
function tendWhenChosen(box, signs, says, page, cards, look) {
  const tick = box.querySelector('[name="sign"]');
  const start = () => {
    if (!tick.checked) return;
    tick.removeEventListener("change", start);
    tendSign(box, signs[box.dataset.sign], says, page, cards, look);
  };
  tick.addEventListener("change", start);
  start();
}

// A verdict may ask to look for another sign: it is chosen, and its questions come next.
function openOthers(form, boxes) {
  form.addEventListener("click", (press) => {
    const link = press.target.closest("[data-opens]");
    const box = link && boxes.find((each) => each.dataset.sign === link.dataset.opens);
    if (!box) return;
    press.preventDefault();
    const tick = box.querySelector('[name="sign"]');
    Object.assign(box.closest("details") ?? {}, { hidden: false, open: true });
    box.hidden = false;
    if (!tick.checked) tick.click();
    tick.focus();
    box.scrollIntoView({ block: "start" });
  });
}

function findByWord(form, boxes, words) {
  const field = form.elements.word;
  const said = form.querySelector("[data-found]");
  const folds = [...form.querySelectorAll("details.signs")];
  const before = folds.map((fold) => fold.open);
  form.querySelector('.find button').hidden = true;
  const show = () => {
    const typed = field.value.trim();
    let found = 0;
    for (const box of boxes) {
      const text = `${box.querySelector(".tile-face").textContent} ${box.dataset.words}`;
      const chosen = box.querySelector('[name="sign"]').checked;
      const fit = !typed || fits(text, typed);
      box.hidden = !fit && !chosen;
      found += fit ? 1 : 0;
    }
    // What nobody can name is a sign too.
    const unknown = boxes.find((box) => box.dataset.sign === "unknown_new");
    if (found === 0 && unknown) unknown.hidden = false;
    folds.forEach((fold, n) => {
      const left = fold.querySelectorAll("[data-sign]:not([hidden])").length;
      fold.hidden = !left;
      fold.querySelector(".soft").textContent = left;
      fold.open = typed ? true : before[n] || fold.querySelector(":checked") !== null;
    });
    said.textContent = !typed ? "" : found === 0 ? words.none
      : found === 1 ? words.found1 : words.found.replace("{n}", found);
  };
  field.addEventListener("input", show);
  // Somebody may have typed before this script came.
  if (field.value) show();
}

tendForm(document);

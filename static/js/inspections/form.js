// The inspection form: verdicts at once, signs found by word, the phone's clock kept.
import { tendSign } from "./sign.js";
import { tendSteps } from "./steps.js";

function tendForm(page) {
  const form = page.querySelector("form[data-inspection]");
  if (!form) return;
  const outcomes = JSON.parse(page.getElementById("outcomes").textContent);
  // What one sign was answered about the tree serves the others too.
  const look = { facts: new Set(outcomes.shared), answers: new Map(), tells: [] };
  const boxes = [...form.querySelectorAll("[data-sign]")];
  const { wire, fetchTexts } = makeWiring(page, outcomes, form.dataset.cards, look);
  for (const box of boxes) tendWhenChosen(box, wire);
  const mends = new URLSearchParams(page.location.search).has("mend");
  let showPartOf = () => {};
  if ("steps" in form.dataset && !mends) {
    form.querySelector(".find button").hidden = true;
    ({ showPartOf } = tendSteps(form, page, boxes, { search, wire, fetchTexts }));
  } else {
    const words = page.getElementById("words").dataset;
    import("./whole.js").then(({ findByWord, openOthers }) => {
      openOthers(form, boxes);
      findByWord(form, boxes, words, search);
    });
  }
  // Verdicts stand beside the answers already: nothing is left to be read first.
  form.querySelector("[data-read]")?.remove();
  // A script that sends a form does not know which button was pressed.
  form.addEventListener("click", ({ target }) => {
    const button = target.closest("button");
    if (button?.type !== "submit") return;
    // What is kept as all well stays so, until it names a sign.
    if (!("kept" in form.dataset)) form.querySelector("[data-pressed]")?.remove();
    if (!button.matches("[data-all-well]") || form.querySelector("[data-pressed]")) return;
    const mark = Object.assign(page.createElement("input"), { type: "hidden", name: "all_well", value: "1" });
    mark.dataset.pressed = "";
    form.append(mark);
  });
  // The return key would send the form half filled and lose the chosen photos.
  form.addEventListener("keydown", (press) => {
    if (press.key === "Enter" && press.target.matches("input")) press.preventDefault();
  });
  // A field that will not do is shown before the browser speaks of it: of one that is out
  // of sight it says nothing, and the button does nothing.
  let isTold = false;
  form.addEventListener("invalid", ({ target }) => {
    if (isTold) return;
    isTold = true;
    setTimeout(() => { isTold = false; });
    showPartOf(target);
    for (let fold = target.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    target.focus();
  }, true);
  form.addEventListener("submit", () => {
    form.elements.made_at.value = new Date().toISOString();
  });
}

// Each sign is wired when it is chosen; what it asks in words comes with the first place.
function makeWiring(page, { says, signs }, cards, look) {
  let texts = null;
  const fetchTexts = () => {
    texts ??= import("./sign_texts.js").catch(() => ({ facts: {}, signs: {}, us: {} }));
    return texts;
  };
  const wired = new Map();
  const wire = (box) => {
    if (!wired.has(box)) {
      wired.set(box, fetchTexts().then((found) => tendSign(box, signs[box.dataset.sign], says, page, cards, look, found)));
    }
    return wired.get(box);
  };
  return { wire, fetchTexts };
}

function tendWhenChosen(box, wire) {
  const tick = box.querySelector('[name="sign"]');
  if (tick.checked) wire(box);
  tick.addEventListener("change", () => { if (tick.checked) wire(box); });
}

// The index comes when somebody types: 15 kB that most looks do without.
async function search(typed, keys) {
  const [{ findKeys }, index] = await Promise.all([import("./sign_search.js"), import("./sign_words.js")]);
  return findKeys(typed, index, keys);
}

tendForm(document);

// The form as a whole: what was typed before stands below one another, to be mended.
// A verdict may ask to look for another sign: it is chosen, and its questions come next.
export function openOthers(form, boxes) {
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

export function findByWord(form, boxes, words, search) {
  const field = form.elements.word;
  const said = form.querySelector("[data-found]");
  const folds = [...form.querySelectorAll("details.signs")];
  const before = folds.map((fold) => fold.open);
  form.querySelector(".find button").hidden = true;
  const show = async () => {
    const typed = field.value.trim();
    const keys = boxes.map((box) => box.dataset.sign);
    const found = typed ? await search(typed, keys) : keys;
    if (field.value.trim() !== typed) return;
    for (const box of boxes) {
      const chosen = box.querySelector('[name="sign"]').checked;
      box.hidden = !found.includes(box.dataset.sign) && !chosen;
    }
    // What nobody can name is a sign too.
    const unknown = boxes.find((box) => box.dataset.sign === "unknown_new");
    if (found.length === 0 && unknown) unknown.hidden = false;
    folds.forEach((fold, n) => {
      const left = fold.querySelectorAll("[data-sign]:not([hidden])").length;
      fold.hidden = !left;
      fold.querySelector(".soft").textContent = left;
      fold.open = typed ? true : before[n] || fold.querySelector(":checked") !== null;
    });
    said.textContent = !typed ? "" : found.length === 0 ? words.none
      : found.length === 1 ? words.found1 : words.found.replace("{n}", found.length);
  };
  field.addEventListener("input", show);
  // Somebody may have typed before this script came.
  if (field.value) show();
}

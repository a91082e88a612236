// The library of photos: how many are chosen, a row of them at once, and arrows from one to
// the next. Without this file the boxes work as they stand.

// The box that an arrow leads to from one of a grid with so many columns, or none.
export function stepTo(boxes, from, key, columns) {
  const steps = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -columns, ArrowDown: columns };
  return key in steps ? boxes[from + steps[key]] ?? null : null;
}

// The boxes from one to another, both with them, whichever comes first.
export const between = (boxes, one, other) => (
  boxes.slice(Math.min(one, other), Math.max(one, other) + 1));

function columnsOf(grid) {
  const [first, ...others] = [...grid.children].map((tile) => tile.offsetTop);
  const next = others.findIndex((top) => top !== first);
  return next < 0 ? others.length + 1 : next + 1;
}

function wire(form) {
  const grid = form.querySelector(".photo-grid");
  const said = form.querySelector("[data-chosen]");
  const boxes = [...form.querySelectorAll('input[name="pick"]')];
  if (!grid || !said || !boxes.length) return;
  let last = -1;
  const count = () => {
    const chosen = Number(said.dataset.chosen) + boxes.filter((box) => box.checked).length;
    said.querySelector("b").textContent = chosen;
    // Over the last row of photos it stands only where there is something to do with it.
    said.parentElement.hidden = chosen === 0;
  };
  grid.addEventListener("click", (event) => {
    const at = boxes.indexOf(event.target);
    if (at < 0) return;
    if (event.shiftKey && last >= 0) {
      for (const box of between(boxes, last, at)) box.checked = boxes[at].checked;
    }
    last = at;
    count();
  });
  grid.addEventListener("keydown", (event) => {
    const at = boxes.indexOf(event.target);
    const next = at < 0 ? null : stepTo(boxes, at, event.key, columnsOf(grid));
    if (!next) return;
    event.preventDefault();
    next.focus();
  });
  // A page that comes back from the browser's memory has its boxes as they were left.
  addEventListener("pageshow", count);
  count();
}

for (const form of globalThis.document?.querySelectorAll("[data-library]") ?? []) wire(form);

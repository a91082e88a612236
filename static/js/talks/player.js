// Plays a talk full screen from one file on a disk. It stands inside that file, where
// nothing else can be fetched; without it all slides stand one below the other.
const slides = [...document.querySelectorAll("section")];
const keys = {
  ArrowRight: 1, ArrowDown: 1, PageDown: 1, " ": 1, ArrowLeft: -1, ArrowUp: -1, PageUp: -1,
};
let shown = 0;

function show(number) {
  shown = Math.max(0, Math.min(number, slides.length - 1));
  slides.forEach((slide, place) => { slide.hidden = place !== shown; });
  document.querySelector("[data-count]").textContent = `${shown + 1} / ${slides.length}`;
}

function press(pressed) {
  if (pressed.altKey || pressed.ctrlKey || pressed.metaKey) return;
  if (pressed.target.closest("button") && pressed.key === " ") return;
  if (pressed.key in keys) show(shown + keys[pressed.key]);
  else if (pressed.key === "Home") show(0);
  else if (pressed.key === "End") show(slides.length - 1);
  else if (pressed.key === "n") document.body.classList.toggle("notes");
  else if (pressed.key === "f") fill();
  else return;
  pressed.preventDefault();
}

function fill() {
  if (document.fullscreenElement) document.exitFullscreen();
  else document.documentElement.requestFullscreen();
}

document.body.classList.add("plays");
document.querySelector("nav").hidden = false;
document.addEventListener("keydown", press);
document.querySelector("[data-back]").addEventListener("click", () => show(shown - 1));
document.querySelector("[data-on]").addEventListener("click", () => show(shown + 1));
document.querySelector("[data-fill]").addEventListener("click", fill);
show(0);

// Slides in another order by drag: a handle in front of each, which moves its slide
// among the others while it is held and sends where it was let go. Without a script,
// and by keyboard, the buttons and the number of each slide do the same.
import { gettext } from "../words.js";

export function tendDeck(page) {
  const deck = page.querySelector("[data-deck]");
  const status = page.querySelector("[data-moved]");
  if (!deck) return;
  for (const handle of deck.querySelectorAll("[data-handle]")) {
    handle.hidden = false;
    handle.addEventListener("pointerdown", (pressed) => {
      if (pressed.button === 0) take(handle, pressed);
    });
  }

  function take(handle, pressed) {
    const slide = handle.closest("[data-slide]");
    const before = [...deck.children];
    pressed.preventDefault();
    slide.classList.add("is-moving");
    const follow = (moved) => {
      scrollAlong(moved.clientY);
      place(slide, moved.clientY);
      status.textContent = gettext("Number %(number)s", { number: placeOf(slide) });
    };
    const stop = (ended) => {
      page.removeEventListener("pointermove", follow);
      page.removeEventListener("pointerup", stop);
      page.removeEventListener("pointercancel", stop);
      slide.classList.remove("is-moving");
      if (ended.type === "pointercancel") deck.append(...before);
      else if (before.indexOf(slide) !== placeOf(slide) - 1) send(slide);
    };
    // Not on the handle: it leaves the page for a moment whenever its slide is moved.
    page.addEventListener("pointermove", follow);
    page.addEventListener("pointerup", stop);
    page.addEventListener("pointercancel", stop);
  }

  function place(slide, y) {
    for (const other of deck.children) {
      const { top, height } = other.getBoundingClientRect();
      if (other === slide || y < top || y > top + height) continue;
      if (y < top + height / 2) other.before(slide);
      else other.after(slide);
      return;
    }
  }

  function placeOf(slide) {
    return [...deck.children].indexOf(slide) + 1;
  }

  function send(slide) {
    const form = slide.querySelector(".talk-to");
    form.elements.to.value = placeOf(slide);
    form.requestSubmit();
  }

  function scrollAlong(y) {
    const edge = 80;
    const { defaultView } = page;
    if (y < edge) defaultView.scrollBy(0, -12);
    else if (y > defaultView.innerHeight - edge) defaultView.scrollBy(0, 12);
  }
}

if (globalThis.document) tendDeck(document);

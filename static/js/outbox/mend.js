// A form put right: filled again from what was kept of it, and set on its round.
import { make } from "../dom.js";
import { gettext } from "../words.js";

// The page may have been kept on an earlier round, or on none: the round is the one in the
// address by which it was opened.
export function setRound(page, { pathname, search }) {
  if (!/^\/[^/]+\/trees\//.test(pathname)) return;
  const round = new URLSearchParams(search).get("round") ?? "";
  for (const form of page.querySelectorAll("form[data-outbox][data-tree]")) {
    const held = form.elements.round;
    if (held && round) held.value = round;
    else if (held) held.remove();
    else if (round) carry(form, "round", round);
  }
  for (const link of page.querySelectorAll('a[href*="/inspections/new/"]')) {
    const [address] = link.getAttribute("href").split("?");
    link.setAttribute("href", round ? `${address}?round=${encodeURIComponent(round)}` : address);
  }
}

export function restore(form, said) {
  const left = [];
  for (const [name, value] of said) {
    if (name.endsWith(":shown")) continue;
    if (!fill(form, name, value)) left.push([name, value]);
  }
  for (const tick of form.querySelectorAll('[name="sign"]:checked')) {
    tick.closest("details")?.setAttribute("open", "");
    tick.dispatchEvent(new Event("change", { bubbles: true }));
  }
  for (const [name, value] of left) {
    if (fieldsOf(form, name).length) keepUnshown(form, name, value);
    else carry(form, name, value);
  }
  if (!left.length) return;
  // Some fields come with a chosen sign and with its card, later: then they take over what is carried.
  new MutationObserver(() => {
    for (const carried of form.querySelectorAll("[data-carried]")) {
      if (!fill(form, carried.name, carried.value)) continue;
      carried.remove();
      for (const field of fieldsOf(form, carried.name)) field.dispatchEvent(new Event("input", { bubbles: true }));
    }
  }).observe(form, { childList: true, subtree: true });
}

const fieldsOf = (form, name) => [...form.querySelectorAll(`[name="${CSS.escape(name)}"]`)]
  .filter((field) => field.type !== "submit" && !("carried" in field.dataset));

// Says whether the form shows this value now.
function fill(form, name, value) {
  let took = false;
  for (const field of fieldsOf(form, name)) {
    if (field.type === "checkbox" || field.type === "radio") {
      if (field.value !== value) continue;
      field.checked = true;
    } else if (field.type !== "file") {
      const before = field.value;
      field.value = value;
      if (field.value !== value.replace(/\r\n?/g, "\n")) {
        field.value = before;
        continue;
      }
    }
    took = true;
    if (field.value && name !== "key") field.closest("details")?.setAttribute("open", "");
  }
  return took;
}

// What was noted and this form has no place for, such as a sign of another kind of tree:
// it is named, goes along, and may be left out. It stands first, so that what the form
// itself says counts.
function keepUnshown(form, name, value) {
  let place = form.querySelector("[data-unshown]");
  if (!place) {
    place = make("fieldset", { "data-unshown": true }, make("legend", {}, gettext("Noted before, and not on this form")));
    form.prepend(place);
  }
  const tick = make("input", { type: "checkbox", name, value, checked: true, "data-carried": true });
  place.append(make("label", { class: "check" }, tick, make("span", {}, `${name}: ${value}`.replaceAll("_", " "))));
}

function carry(form, name, value) {
  const field = document.createElement("input");
  Object.assign(field, { type: "hidden", name, value });
  field.dataset.carried = "";
  form.append(field);
}

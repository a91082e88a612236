// A form put right: filled again from what was kept of it, and set on its round.

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
  const left = new Map();
  for (const [name, value] of said) {
    if (name.endsWith(":shown") || name === "made_at") continue;
    if (!fill(form, name, value)) left.set(name, value);
  }
  for (const tick of form.querySelectorAll('[name="sign"]:checked')) {
    tick.closest("details")?.setAttribute("open", "");
    tick.dispatchEvent(new Event("change", { bubbles: true }));
  }
  for (const [name, value] of left) carry(form, name, value);
  if (!left.size) return;
  // Some fields come with a sign's card, later: then they take over what is carried.
  new MutationObserver(() => {
    for (const carried of form.querySelectorAll("[data-carried]")) {
      const own = [...form.querySelectorAll(`[name="${CSS.escape(carried.name)}"]`)]
        .find((field) => field !== carried);
      if (!own) continue;
      own.value = carried.value;
      carried.remove();
    }
  }).observe(form, { childList: true, subtree: true });
}

function fill(form, name, value) {
  const fields = [...form.querySelectorAll(`[name="${CSS.escape(name)}"]`)];
  if (!fields.length) return false;
  for (const field of fields) {
    if (field.type === "checkbox" || field.type === "radio") {
      if (field.value === value) field.checked = true;
    } else if (field.type !== "file") {
      field.value = value;
    }
    if (field.value && name !== "key") field.closest("details")?.setAttribute("open", "");
  }
  return true;
}

function carry(form, name, value) {
  const field = document.createElement("input");
  Object.assign(field, { type: "hidden", name, value });
  field.dataset.carried = "";
  form.append(field);
}

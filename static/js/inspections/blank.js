// The form for any tree: it becomes the form of the tree in the address by which it was
// opened. The worker answers with it where a tree's own form is not on this phone.
const OWN = /^\/[^/]+\/trees\/([^/]+)\/inspections\/new\/$/;

export function becomeFormOf(page, { pathname }) {
  const blank = page.querySelector("[data-blank]");
  const [, part] = OWN.exec(pathname) ?? [];
  if (!blank || !part) return null;
  const code = decodeURIComponent(part);
  const form = blank.querySelector("form[data-inspection]");
  form.dataset.tree = code;
  form.dataset.onlyReports = "";
  page.getElementById("words").dataset.noAnswer = blank.dataset.noVerdict;
  form.dataset.cards = form.dataset.cards.replace(`/trees/${blank.dataset.blank}/`, `/trees/${part}/`);
  const heading = blank.dataset.heading.replace("%(code)s", code);
  page.querySelector("h1").textContent = heading;
  page.title = heading;
  page.querySelector("[data-which-tree]").remove();
  blank.hidden = false;
  return code;
}

if (globalThis.document) becomeFormOf(document, location);

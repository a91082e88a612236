// What htmx brings: the token goes out with every request, and whoever was at a control
// that the swap replaced is put back at its successor, or at the part that arrived. A
// part that does not come says so above what it was to replace; nobody is moved.
import { csrfToken } from "./cookie.js";
import { make } from "./dom.js";
import { gettext } from "./words.js";

export function tendSwaps(page, wordsIn = alertIn) {
  let at = "";
  page.addEventListener("htmx:configRequest", (asking) => {
    if (asking.detail.verb !== "get") asking.detail.headers["X-CSRFToken"] = csrfToken();
  });
  page.addEventListener("htmx:beforeSwap", () => {
    at = page.activeElement?.id ?? "";
  });
  page.addEventListener("htmx:afterSettle", (settled) => {
    const part = settled.detail.elt;
    const refused = part.querySelector?.('[role="alert"]');
    const next = refused ?? (page.activeElement === page.body && at ? page.getElementById(at) : null);
    if (!next) return;
    if (next === refused) next.tabIndex = -1;
    next.focus();
  });
  page.addEventListener("htmx:responseError", ({ detail }) => {
    sayMissing(detail, wordsIn(detail.xhr.responseText) || gettext("The server can't show this now."));
  });
  for (const name of ["htmx:sendError", "htmx:timeout"]) {
    page.addEventListener(name, ({ detail }) => {
      sayMissing(detail, gettext("The server can't be reached. Check your signal."));
    });
  }
}

function sayMissing({ elt, target }, why) {
  const shown = target.querySelector("[data-missing]");
  // What is asked again and again says it once.
  if (shown?.dataset.missing === why) return;
  shown?.remove();
  const again = make("button", { class: "button", type: "button", click: () => askAgain(elt) }, gettext("Try again"));
  const text = `${why} ${gettext("What you see here is older.")}`;
  target.prepend(make("div", { class: "notice refused", role: "alert", "data-missing": why }, make("p", {}, text), again));
}

// The notice goes with the swap, and its button with it: the control keeps the place.
function askAgain(elt) {
  const control = elt.matches("form") ? elt.querySelector("button") : elt;
  control.focus();
  control.click();
}

// The page that tells of an outage says why in a notice.
function alertIn(html) {
  const page = new DOMParser().parseFromString(html ?? "", "text/html");
  return page.querySelector('[role="alert"]')?.textContent.replace(/\s+/g, " ").trim() ?? "";
}

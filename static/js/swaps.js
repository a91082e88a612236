// What htmx brings: the token goes out with every request, and whoever was at a control
// that the swap replaced is put back at its successor, or at the part that arrived.
import { csrfToken } from "./cookie.js";

export function tendSwaps(page) {
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
}

// Fetches the outbox behind the page, so that the page itself stays light. A form of the
// outbox that is sent meanwhile waits for it; without it the form goes the ordinary way.
import { watchWay } from "./way.js";

export function wakeOutbox(page, fetched = () => import("./start.js")) {
  const signedIn = Boolean(page.body.dataset.person);
  if (!signedIn && !holdsSomething()) return;
  let ready = null;
  const wake = () => {
    // What did not come once may come the next time.
    ready ??= fetched().catch((fault) => {
      ready = null;
      throw fault;
    });
    const waking = ready;
    waking.catch(() => {});
    return waking;
  };
  // The page comes first: on a weak line both would share it.
  if (["loading", "interactive"].includes(page.readyState)) {
    page.defaultView.addEventListener("load", wake, { once: true });
  } else wake();
  if (!signedIn) return;
  page.addEventListener("submit", async (sending) => {
    const form = sending.target;
    if (!form.matches("[data-outbox]") || sending.defaultPrevented) return;
    // A button that only asks for something records nothing.
    if (sending.submitter?.matches("[data-asks]")) return;
    sending.preventDefault();
    const way = watchWay(page.defaultView);
    try {
      const outbox = await wake();
      await outbox.keep(form, way);
    } catch {
      way.end();
      form.submit();
    }
  });
}

// A visitor at a tag has no outbox and shall not load one.
function holdsSomething() {
  try {
    return localStorage.getItem("orchard-outbox") !== null;
  } catch {
    return false;
  }
}

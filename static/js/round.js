// "Take this round along": keeps all pages of a round on this phone and says when it is
// ready and how fresh it is. Wires <section data-round-pages="address of the list">.
import { gettext, ngettext } from "./words.js";
import { make, told } from "./dom.js";

export function tendRound(page) {
  const section = page.querySelector("[data-round-pages]");
  if (!section) return;
  const { person } = page.body.dataset;
  const address = section.dataset.roundPages;
  const button = section.querySelector("button")
    ?? section.appendChild(make("button", { class: "button", type: "button" }, gettext("Take this round along")));
  const bar = make("progress", { max: 1, value: 0, hidden: true, "aria-label": gettext("Pages kept") });
  const said = make("p", { role: "status" });
  const away = make("button", { class: "button plain", type: "button", hidden: true }, gettext("Remove from this phone"));
  section.append(away, bar, said);
  const say = (state, text) => {
    section.dataset.kept = state;
    said.textContent = text;
  };

  async function showKept() {
    const before = await caches.match(address, { ignoreVary: true }).catch(() => null);
    const state = before && await before.json();
    if (state) ready(state);
    else lacks();
  }

  function lacks() {
    away.hidden = true;
    say("none", gettext("Not on this phone yet. Take it along while there is signal."));
  }

  async function remove() {
    const { removeRound } = await import("./taking.js");
    await removeRound(address);
    lacks();
  }

  function ready({ kept, missing, at }) {
    away.hidden = false;
    const values = { time: told(at) };
    if (missing) {
      say("part", ngettext(
        "%(number)s page is missing: take it along again while there is signal.",
        "%(number)s pages are missing: take it along again while there is signal.",
        missing,
        values,
      ));
    } else {
      say("ready", ngettext(
        "Ready without signal: %(number)s page, as of %(time)s.",
        "Ready without signal: %(number)s pages, as of %(time)s.",
        kept,
        values,
      ));
    }
  }

  async function take() {
    button.disabled = true;
    bar.hidden = false;
    page.body.dataset.taking = "";
    say("busy", gettext("Taking it along. Leave this page open."));
    try {
      const { takeRound } = await import("./taking.js");
      const state = await takeRound(address, { person, step: (done, all) => { bar.value = done / all; } });
      ready(state);
    } catch (fault) {
      say("failed", fault.name === "QuotaExceededError"
        ? gettext("This phone has no room for the round. Remove a round that is over.")
        : gettext("There is no signal to take it along. Try again where there is."));
    } finally {
      delete page.body.dataset.taking;
      button.disabled = false;
      bar.hidden = true;
    }
  }

  if (!globalThis.caches || !navigator.serviceWorker) {
    say("none", gettext("This phone's browser keeps no pages. Print the round, or take notes on paper."));
    button.disabled = true;
    return;
  }
  button.addEventListener("click", (pressed) => {
    pressed.preventDefault();
    take();
  });
  away.addEventListener("click", remove);
  showKept();
}

if (globalThis.document) tendRound(document);

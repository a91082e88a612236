// What is said of entries: on the tray in short, on the outbox's page one by one.
import { gettext, ngettext } from "../words.js";
import { told } from "../dom.js";

// A page older than this came from the phone's own store.
const FRESH = 90_000;

// What the tray says of these entries, one sentence for each thing.
export function sentences(entries, { person, end, on = new Date() }) {
  const waiting = entries.filter((entry) => entry.state === "waiting");
  const refused = entries.filter((entry) => entry.state === "refused");
  const mine = person ? waiting.filter((entry) => entry.person === person) : waiting;
  const others = person ? waiting.filter((entry) => entry.person !== person) : [];
  const said = [];
  if (mine.length) {
    const oldest = mine.map((entry) => entry.made_at).sort()[0];
    said.push(ngettext("%(number)s waiting since %(time)s", "%(number)s waiting since %(time)s", mine.length, { time: told(oldest, on) }));
  }
  for (const name of new Set(others.map((entry) => entry.person_name))) {
    const count = others.filter((entry) => entry.person_name === name).length;
    said.push(ngettext("%(number)s from %(name)s waits until %(name)s signs in", "%(number)s from %(name)s wait until %(name)s signs in", count, { name }));
  }
  if (refused.length) {
    said.push(ngettext("%(number)s refused: it needs you", "%(number)s refused: they need you", refused.length));
  }
  if (waiting.length && end === "signed out") said.push(gettext("Sign in, then it goes on by itself"));
  return said;
}

export function isStale(rendered, loaded, clock = 0) {
  return loaded - clock - Date.parse(rendered) > FRESH;
}

// What holds an entry up, in a sentence.
export function stateOf(entry, { entries = [], person, outcome = "", busy = null, open = new Set() } = {}) {
  if (entry.state === "refused") return gettext("Refused: %(reason)s", { reason: entry.reason });
  if (busy === entry.key) return gettext("On its way now.");
  if (open.has(entry.key)) return gettext("Open on another page. It goes when that is saved or closed.");
  if (person !== undefined && person !== null && entry.person !== person) {
    return gettext("Waits until %(name)s signs in on this phone.", { name: entry.person_name });
  }
  if (entry.kind === "photo" && entries.some((one) => one.key === entry.fields.inspection)) {
    return gettext("Goes after its record.");
  }
  if (outcome === "signed out" || person === null) return gettext("Waits until you sign in again.");
  if (entry.reason) return gettext("Waits: %(reason)s", { reason: entry.reason });
  if (outcome === "offline") return gettext("Waits for signal.");
  if (outcome === "server") return gettext("The server doesn't answer. The phone tries again by itself.");
  return gettext("Waits for its turn.");
}

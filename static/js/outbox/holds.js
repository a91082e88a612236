// Holds on a kept page are those of its moment. What was treated since, no phone can know:
// what it heard on an earlier day lets nobody in any more.
import { make, told } from "../dom.js";
import { gettext } from "../words.js";

export function holdsSince(rendered, today = new Date()) {
  const time = told(rendered, today);
  if (new Date(rendered).toDateString() === today.toDateString()) {
    return { level: "offline", words: gettext("Holds as of %(time)s. What was treated since isn't on this phone.", { time }) };
  }
  return { level: "caution", words: gettext("Holds as of %(time)s, another day. Treat everything as closed until there is signal or the crew lead says.", { time }) };
}

export function tellHolds(page, rendered) {
  const { words, level } = holdsSince(rendered);
  for (const place of page.querySelectorAll("[data-holds]")) {
    if (place.querySelector("[data-holds-since]")) continue;
    place.prepend(make("div", { class: `notice ${level}`, "data-holds-since": true }, make("p", {}, words)));
  }
}

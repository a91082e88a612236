// The words of the scripts, in the language of the page. English is what is written here;
// another language comes as a list from the server.
let list = {};

export async function learnWords(language, fetching = fetch) {
  if (!language || language.startsWith("en")) return;
  const answer = await fetching("/words.json").catch(() => null);
  if (answer?.ok) list = (await answer.json()).catalog;
}

const filled = (text, values) => text.replace(/%\((\w+)\)s/g, (whole, name) => (
  name in values ? String(values[name]) : whole));

export function gettext(text, values = {}) {
  const found = list[text];
  return filled(typeof found === "string" ? found : text, values);
}

export function ngettext(one, many, number, values = {}) {
  const found = list[one];
  const own = number === 1 ? one : many;
  const text = Array.isArray(found) ? found[Math.min(number === 1 ? 0 : 1, found.length - 1)] : own;
  return filled(text, { number, ...values });
}

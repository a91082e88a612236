// Finding a sign by everyday words, spelling forgiven: the same steps as the server's
// `orchard/science/guide/search.py`, over the index that it wrote.

// The keys that fit what was typed, the best first.
export function findKeys(typed, { settings, signs }, keys = Object.keys(signs)) {
  const [exact, begins, begunBy, nearly, roughly] = settings.likes;
  const asked = shortWords(typed, new Set(settings.empty));
  const rows = keys.filter((key) => key in signs).map((key) => [key, readRow(signs[key], settings.weights)]);
  const spread = new Map();
  for (const [, { weights }] of rows) {
    for (const word of weights.keys()) spread.set(word, (spread.get(word) ?? 0) + 1);
  }
  const rare = (word) => Math.log(1 + rows.length / spread.get(word));

  // What is a word of the index is no slip of another: a leaf does not lean.
  function like(piece, word) {
    if (piece === word) return exact;
    if (piece.length >= 3 && word.startsWith(piece)) return begins;
    if (word.length >= 4 && piece.startsWith(word)) return begunBy;
    const shorter = Math.min(piece.length, word.length);
    if (spread.has(piece) || shorter < 4 || Math.abs(piece.length - word.length) > 2) return 0;
    const slips = slipsBetween(piece, word);
    if (slips <= 1) return nearly;
    return slips === 2 && shorter >= 7 ? roughly : 0;
  }

  const likeness = asked.map((piece) => new Map(
    [...spread.keys()].map((word) => [word, like(piece, word)]).filter(([, found]) => found),
  ));
  const scores = new Map();
  for (const [key, { weights, phrases }] of rows) {
    let score = 0;
    for (const fits of likeness) {
      let best = 0;
      for (const [word, found] of fits) {
        if (weights.has(word)) best = Math.max(best, weights.get(word) * found * rare(word));
      }
      score += best;
    }
    const said = phrases.filter((phrase) => phrase.length
      && phrase.every((word) => likeness.some((fits) => fits.has(word))));
    score += settings.phrase * Math.max(0, ...said.map((phrase) => phrase.reduce((sum, word) => sum + rare(word), 0)));
    if (score) scores.set(key, Math.round(score * 1e6) / 1e6);
  }
  const least = settings.share * Math.max(0, ...scores.values());
  return [...scores.keys()].filter((key) => scores.get(key) >= least)
    .sort((one, other) => scores.get(other) - scores.get(one) || (one < other ? -1 : 1));
}

function readRow([alike, description, phrases, name], [forAlike, forDescription, forEveryday, forName]) {
  const split = (text) => text.split(" ").filter(Boolean);
  const weights = new Map();
  for (const word of split(alike)) weights.set(word, forAlike);
  for (const word of split(description)) weights.set(word, forDescription);
  for (const word of phrases.flatMap(split)) weights.set(word, forEveryday);
  for (const word of split(name)) weights.set(word, forName);
  return { weights, phrases: phrases.map(split) };
}

function shortWords(text, empty) {
  const plain = text.toLowerCase().replaceAll("'", "").normalize("NFD").replace(/\p{M}/gu, "");
  return (plain.match(/[a-z0-9]+/g) ?? []).filter((word) => !empty.has(word)).map(short);
}

// Cuts the commonest English endings, so that leaf finds leaves.
function short(said) {
  let word = said;
  if (word.length > 4 && word.endsWith("ves")) word = `${word.slice(0, -3)}f`;
  else if (word.length > 4 && word.endsWith("ies")) word = `${word.slice(0, -3)}y`;
  else if (word.length > 3 && word.endsWith("s") && !word.endsWith("ss")) word = word.slice(0, -1);
  for (const ending of ["ing", "ed"]) {
    if (word.length <= ending.length + 3 || !word.endsWith(ending)) continue;
    word = word.slice(0, -ending.length);
    const last = word.at(-1);
    if (word.length > 3 && last === word.at(-2) && !"ls".includes(last)) word = word.slice(0, -1);
    break;
  }
  return word.length > 3 && "ey".includes(word.at(-1)) ? word.slice(0, -1) : word;
}

// Letters left out, added, changed, or exchanged with their neighbour.
function slipsBetween(one, other) {
  let before = null;
  let row = Array.from({ length: other.length + 1 }, (_, n) => n);
  for (let n = 1; n <= one.length; n += 1) {
    const next = [n];
    for (let m = 1; m <= other.length; m += 1) {
      const same = one[n - 1] === other[m - 1];
      let cost = Math.min(row[m] + 1, next[m - 1] + 1, row[m - 1] + (same ? 0 : 1));
      if (n > 1 && m > 1 && one[n - 1] === other[m - 2] && one[n - 2] === other[m - 1]) {
        cost = Math.min(cost, before[m - 2] + 1);
      }
      next.push(cost);
    }
    before = row;
    row = next;
  }
  return row[other.length];
}

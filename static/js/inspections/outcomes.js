// The verdict for what has been answered, looked up in the tables that came with the
// page: no rule is known here.

// Which option an answer is; one past the last means "not answered".
export function place(options, answer) {
  if (answer === null || answer === "" || answer === "?") return options.length;
  const at = options.findIndex((option) => Array.isArray(option)
    ? holds(option, answer)
    : option === answer);
  return at < 0 ? options.length : at;
}

function holds([low, high, ends], number) {
  const above = ends & 1 ? number >= low : number > low;
  const below = ends & 2 ? number <= high : number < high;
  return above && below;
}

function entry(table, index) {
  return typeof table === "string" ? parseInt(table[index], 36) : table[index];
}

function places(sign, answers) {
  return sign.asks.map(([fact, options]) => place(options, answers[fact] ?? null));
}

function lookUp(sign, at) {
  const index = sign.asks.reduce((sum, [, options], n) => sum * (options.length + 1) + at[n], 0);
  return entry(sign.table, index);
}

// The answers with what follows from them: how a number compares with the last one.
export function completed(sign, answers) {
  if (sign.before === undefined) return answers;
  const number = Object.values(answers).find((answer) => typeof answer === "number");
  const own = answers[sign.asks[0]?.[0]];
  const now = typeof own === "number" ? own : number;
  if (now === undefined) return answers;
  const trend = now > sign.before ? "worse" : now < sign.before ? "better" : "same";
  return { ...answers, trend };
}

// { verdict, due, recheck, because, plan, missing } for the answers given so far; `missing` is
// the fact without which a worse verdict is still possible. Some reasons come with the card
// of the sign: until then these are left out.
export function verdictOf(sign, answers, says, reasons = []) {
  const all = completed(sign, answers);
  const table = all.trend === "worse" && sign.worse ? sign.worse : sign;
  const [verdict, due, recheck, ...because] = table.said[lookUp(table, places(table, all))];
  const marked = (mark) => because.find((one) => String(one).startsWith(mark))?.slice(1);
  const told = because
    .filter((one) => !/^[?+]/.test(one))
    .map((one) => (typeof one === "number" ? says[one] : reasons[Number(one.slice(1))]))
    .filter((text) => text !== undefined);
  const missing = marked("?") ?? null;
  return { verdict, due, recheck, because: told, plan: Number(marked("+") ?? 0), missing };
}

// The facts worth asking: another answer to them could still change the verdict.
export function worthAsking(sign, answers) {
  const all = completed(sign, answers);
  const at = places(sign, all);
  const open = sign.asks.map(([, options], n) => at[n] === options.length);
  return sign.asks.filter(([fact, options], n) => {
    if (n === 0) return true;
    if (fact === "trend" && sign.before !== undefined) return false;
    return varies(sign, at, open, n);
  }).map(([fact]) => fact);
}

function varies(sign, at, open, asked) {
  const others = sign.asks.map((_, n) => n).filter((n) => n !== asked && n > 0 && open[n]);
  const tries = [[...at]];
  for (const n of others) {
    const options = sign.asks[n][1].length;
    for (const one of [...tries]) {
      for (let choice = 0; choice < options; choice += 1) {
        const next = [...one];
        next[n] = choice;
        tries.push(next);
      }
    }
  }
  return tries.some((one) => {
    const seen = new Set();
    // "Not answered" counts too: where it alone makes a difference, the answer is needed.
    for (let choice = 0; choice <= sign.asks[asked][1].length; choice += 1) {
      const next = [...one];
      next[asked] = choice;
      seen.add(lookUp(sign, next));
    }
    return seen.size > 1;
  });
}

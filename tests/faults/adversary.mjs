// What befalls one request: on the line (X-Line) or at the server (X-Fault).
const share = (chance) => {
  // The ends are where mistakes hide: the first bytes, and the last.
  if (chance.is(0.2)) return 0;
  if (chance.is(0.4)) return 0.93 + 0.07 * chance.next();
  return chance.next();
};

const ON_THE_LINE = [
  [2, () => "refuse"],
  [1, () => "portal"],
  [1, () => "elsewhere"],
  [2, () => "earlier-answer"],
  [6, (chance) => `cut-request:${share(chance)}`],
  [0.7, (chance) => `hang-request:${share(chance)}`],
  [5, () => "lose-answer"],
  [4, (chance) => `late-request:${chance.whole(120)}`],
  [0.7, () => "hang-answer"],
  [5, (chance) => `cut-answer:${share(chance)}`],
  [1, () => "bad-gateway"],
  [4, (chance) => `twice:${chance.next()}`],
  [3, (chance) => `slow:${chance.whole(60)}`],
];

const PLACES = [
  [4, () => "before"],
  [5, (chance) => `sql:${1 + chance.whole(40)}`],
  [3, () => "effect"],
  [3, () => "receipt"],
  [4, () => "commit"],
  [2, () => "answer"],
  [3, (chance) => `photo:${1 + chance.whole(4)}`],
];

const AT_THE_SERVER = [
  [12, "kill"],
  [4, "full"],
  [3, "readonly"],
  [3, "folder"],
  [2, "lock"],
  [2, "restart"],
  [2, "crash"],
  [2, "throttle"],
];

export function faultOf(chance, { harsh }) {
  if (!chance.is(harsh)) return {};
  if (chance.is(0.5)) return { "x-line": chance.weighed(ON_THE_LINE)(chance) };
  const deed = chance.weighed(AT_THE_SERVER);
  const place = deed === "throttle" || (deed === "lock" && chance.is(0.7))
    ? "before" : chance.weighed(PLACES)(chance);
  return { "x-fault": `${deed}@${place}` };
}

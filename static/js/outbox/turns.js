// An entry that somebody has open to change it is not sent meanwhile, and one that is on its
// way is only opened when the answer to it has come.
const nameOf = (key) => `orchard-mend ${key}`;
// So long a page waits for an answer to come, and longer than a dead line is waited for.
const LONGEST_WAY = 65_000;
// Where the engine knows no locks, a page says this often that it is still open.
const RENEWED = 20_000;
const HOLDS = 3 * RENEWED;

export function makeTurns(store, locks = globalThis.navigator?.locks) {
  // Hold an entry to change it, once it is not on its way. Gives the way to let go of it.
  async function open(key, { patience = LONGEST_WAY } = {}) {
    if (!locks) return marked(key);
    const waiting = new AbortController();
    const timer = setTimeout(() => waiting.abort(), patience);
    return new Promise((opened) => {
      const how = { mode: "shared", signal: waiting.signal };
      const held = locks.request(nameOf(key), how, () => new Promise((free) => {
        clearTimeout(timer);
        opened(() => {
          free();
          return held;
        });
      }));
      held.catch(() => opened(async () => {}));
    });
  }

  async function marked(key) {
    const mark = () => store.remember(nameOf(key), Date.now() + HOLDS).catch(() => {});
    await mark();
    const timer = setInterval(mark, RENEWED);
    return () => {
      clearInterval(timer);
      return store.remember(nameOf(key), 0).catch(() => {});
    };
  }

  async function isOpen(key) {
    if (!locks) return (await store.recall(nameOf(key)).catch(() => 0) ?? 0) > Date.now();
    const { held } = await locks.query();
    return held.some(({ name, mode }) => name === nameOf(key) && mode === "shared");
  }

  // Do the work of sending an entry, unless somebody has it open: then null.
  function unlessOpen(key, work) {
    const alone = async (lock) => (!lock && await isOpen(key) ? null : work());
    // A sender that the system has put to sleep may hold it for ever: that stops nobody.
    return locks ? locks.request(nameOf(key), { ifAvailable: true }, alone) : alone(null);
  }

  return { open, unlessOpen };
}

// Sends what waits: oldest first, records before photos, one at a time. It stops at the
// first dead line and tries again later; it never sends in another person's name.
import { makeTurns } from "./turns.js";
import { greet, post, readAnswer } from "./wire.js";

const LOCK = "orchard-outbox-sending";
const LEASE = 90_000;
const LONGEST_WAIT = 60_000;
const ELSEWHERE_WAIT = 10_000;
// An entry that the server cannot digest must not hold up the others for ever.
const MOST_UNCLEAR = 5;
const MOST_ELSEWHERE = 3;

// The entry whose turn it is, or none: a photo goes only after its record has gone.
export function nextOf(entries, person, passed = new Set()) {
  const here = new Set(entries.map((entry) => entry.key));
  const mine = entries.filter((entry) => entry.state === "waiting"
    && entry.person === person && !passed.has(entry.key));
  return mine.find((entry) => entry.kind !== "photo")
    ?? mine.find((entry) => entry.kind === "photo" && !here.has(entry.fields.inspection))
    ?? null;
}

// Deliver one entry. This is the only place where one leaves the phone because of a
// sending, and it does so in this order: sent, receipt read, removed.
export async function deliver(entry, { store, send, moment, moved }) {
  const bytes = entry.kind === "photo" ? await store.bytesOf(entry.key) : null;
  const came = await send(entry, bytes, moment(), { moved });
  const answer = readAnswer(came, entry.key);
  if (answer.answer === "kept" || answer.answer === "already") {
    await store.remove(entry.key, entry.revision, newsOf(entry, answer));
  }
  return answer;
}

function newsOf({ kind, orchard, title, person, fields }, { url, notices, at }) {
  const all_well = (fields.form ?? []).some(([name]) => name === "all_well");
  const { tree = "", photos_follow: photo_only = false } = fields;
  return { kind, orchard, title, person, tree, url, notices, at, all_well, photo_only, seen: false };
}

export function makeSender({
  store,
  hello = greet,
  send = post,
  carry = deliver,
  moment = () => new Date().toISOString(),
  online = () => globalThis.navigator?.onLine !== false,
  locks = globalThis.navigator?.locks,
  turns = makeTurns(store, locks),
  later = (act, ms) => setTimeout(act, ms),
  never = (timer) => clearTimeout(timer),
  told = () => {},
}) {
  const holder = globalThis.crypto.randomUUID();
  let running = null;
  let again = false;
  let timer = null;
  let failures = 0;
  let elsewhere = 0;
  // How often what came back for an entry was no answer, also where the phone is too full
  // to note it.
  const unclear = new Map();

  // One way through the outbox. Says why it ended: "empty", "offline", "server",
  // "signed out", "wait"; how many went; who is signed in.
  async function pass() {
    const passed = new Set();
    let sent = 0;
    const ended = (end, rest = {}) => ({ end, sent, ...rest });
    if (!online()) return ended("offline");
    let greeting;
    try {
      greeting = await hello();
    } catch {
      return ended("offline");
    }
    if (!greeting) return ended("server");
    if (greeting.person === null) return ended("signed out", { greeting });
    told({ step: "greeted", greeting });
    let renewed = false;
    for (;;) {
      const entry = nextOf(await store.list(), greeting.person, passed);
      if (!entry) return ended("empty", { greeting });
      if (!locks) await store.lease(holder, Date.now() + LEASE, Date.now());
      let answer;
      try {
        answer = await turns.unlessOpen(entry.key, () => {
          told({ step: "sending", entry });
          return carry(entry, {
            store,
            send,
            moment,
            moved: (share) => told({ step: "moved", entry, share }),
          });
        });
      } catch (fault) {
        if (fault.name === "StoreFailed") throw fault;
        await noteTry(entry, "");
        return ended("offline", { greeting });
      }
      if (!answer) {
        passed.add(entry.key);
        told({ step: "open", entry });
        continue;
      }
      told({ step: "answered", entry, answer });
      if (answer.answer === "kept" || answer.answer === "already") {
        sent += 1;
        failures = 0;
        renewed = false;
      } else if (answer.answer === "refused") {
        // Where the phone has no room to note it, the others go on all the same.
        passed.add(entry.key);
        await noteTry(entry, answer.reason, { state: "refused", url: answer.url });
      } else if (answer.status === 403 && !answer.clear && !renewed) {
        // The token went stale: greeting again has renewed it, once.
        renewed = true;
        const now = await hello().catch(() => null);
        if (!now) return ended("server", { greeting });
        if (now.person !== greeting.person) return ended("signed out", { greeting: now });
      } else {
        const it = `${entry.key} ${entry.revision}`;
        const before = Math.max(entry.unclear ?? 0, unclear.get(it) ?? 0);
        const times = answer.clear ? 0 : before + 1;
        unclear.set(it, times);
        await noteTry(entry, answer.reason, { unclear: times });
        if (answer.status === 401) return ended("signed out", { greeting });
        if (answer.retryAfter) return ended("wait", { greeting, after: answer.retryAfter * 1000 });
        const goesOn = answer.clear ? entry.kind === "photo" : times >= MOST_UNCLEAR;
        if (!goesOn) return ended("server", { greeting });
        passed.add(entry.key);
      }
    }
  }

  // A full phone takes nothing more: then it is not noted.
  const noteTry = (entry, reason, rest = {}) => store.mark(entry.key, {
    tries: entry.tries + 1, last_try_at: moment(), reason, ...rest,
  }, entry.revision).catch(() => {});

  async function alone() {
    if (!locks) {
      const mine = await store.lease(holder, Date.now() + LEASE, Date.now());
      if (!mine) return { end: "elsewhere", sent: 0 };
      try {
        return await pass();
      } finally {
        await store.lease(holder, 0, Date.now());
      }
    }
    // A tab that the system has put to sleep, or one that was closed, may hold the lock for
    // ever. The server knows an entry that comes twice, so taking over costs nothing.
    const how = elsewhere >= MOST_ELSEWHERE ? { steal: true } : { ifAvailable: true };
    return locks.request(LOCK, how, (lock) => (lock ? pass() : { end: "elsewhere", sent: 0 }));
  }

  async function once() {
    never(timer);
    timer = null;
    let result;
    try {
      result = await alone();
    } catch (fault) {
      result = { end: fault.name === "AbortError" ? "elsewhere" : "store", sent: 0, fault };
    }
    elsewhere = result.end === "elsewhere" ? elsewhere + 1 : 0;
    if (["offline", "server", "wait", "store"].includes(result.end)) {
      failures += 1;
      timer = later(() => nudge(), result.after ?? waitAfter(failures));
    } else if (result.end === "elsewhere") {
      timer = later(() => nudge(), ELSEWHERE_WAIT);
    } else {
      failures = 0;
    }
    told({ step: "ended", ...result });
    return result;
  }

  // Try now. What is asked for while it runs is done right after.
  function nudge() {
    if (running) {
      again = true;
      return running;
    }
    running = once().finally(() => {
      running = null;
      if (again) {
        again = false;
        nudge();
      }
    });
    return running;
  }

  // Another tab sends and is alive: its turn is left to it.
  const hear = () => { elsewhere = 0; };

  return { nudge, hear, stop: () => never(timer) };
}

// 2, 4, 8 … seconds, at most a minute, each a little different for each phone.
export function waitAfter(failures, chance = Math.random()) {
  const full = Math.min(2000 * 2 ** (failures - 1), LONGEST_WAIT);
  return Math.round(full * (0.75 + chance / 4));
}

// A phone as far as the outbox sees it: a store that outlives the browser, cookies,
// tabs that may be killed between any two steps, and the real scripts of the page.
import { AsyncLocalStorage } from "node:async_hooks";
import { IDBFactory } from "../quality/node_modules/fake-indexeddb/build/esm/index.js";
import { openOutbox } from "../../static/js/outbox/store.js";
import { deliver, makeSender } from "../../static/js/outbox/send.js";
import { greet, post } from "../../static/js/outbox/wire.js";

// Which tab is at work: what a browser knows by itself.
const at = new AsyncLocalStorage();
// So much shorter is this test's patience with a dead line than a person's.
const A_LONG_TIME = 20_000;
const HASTE = 150;
const LONGEST = 500;
const networkFetch = globalThis.fetch;
const timer = globalThis.setTimeout;
globalThis.setTimeout = (act, ms, ...rest) => timer(
  act, ms < A_LONG_TIME ? ms : Math.min(ms / HASTE, LONGEST), ...rest,
);
globalThis.document = { get cookie() { return at.getStore().phone.cookies(); } };
globalThis.fetch = (url, options = {}) => at.getStore().fetch(url, options);

const never = new Promise(() => {});
const trueTime = () => performance.timeOrigin + performance.now();

// The planted bug: gone from the phone before the server has it.
async function hasty(entry, tools) {
  const bytes = entry.kind === "photo" ? await tools.store.bytesOf(entry.key) : null;
  await tools.store.remove(entry.key, entry.revision);
  return deliver(entry, { ...tools, store: { ...tools.store, bytesOf: async () => bytes } });
}

// A lock manager that may grant too much: a tab asleep is robbed of its lock.
class Locks {
  held = new Map();

  async request(name, { ifAvailable, steal }, work) {
    const before = this.held.get(name);
    if (before && !steal && ifAvailable) return work(null);
    const mine = { tab: at.getStore() };
    const stolen = new Promise((_, reject) => {
      mine.rob = () => reject(new DOMException("stolen", "AbortError"));
    });
    stolen.catch(() => {});
    before?.rob();
    this.held.set(name, mine);
    try {
      return await Promise.race([work({}), stolen]);
    } finally {
      if (this.held.get(name) === mine) this.held.delete(name);
    }
  }

  async query() {
    return { held: [...this.held.keys()].map((name) => ({ name, mode: "exclusive" })) };
  }

  freedBy(tab) {
    for (const [name, { tab: holder }] of this.held) if (holder === tab) this.held.delete(name);
  }
}

export class Phone {
  constructor(name, { world, chance, skew, locking, bug, faults }) {
    Object.assign(this, { name, world, chance, skew, locking, bug, faults });
    this.factory = new IDBFactory();
    this.jar = new Map();
    this.locks = locking === "locks" ? new Locks() : undefined;
    this.tabs = [];
    this.accepted = new Map();
    this.attempted = new Set();
    this.signedIn = null;
    this.count = 0;
  }

  cookies = () => [...this.jar].map(([name, value]) => `${name}=${value}`).join("; ");

  moment = () => new Date(trueTime() + this.skew).toISOString();

  openTab() {
    const tab = new Tab(this);
    this.tabs.push(tab);
    return tab;
  }

  aTab() {
    return this.tabs.length ? this.chance.one(this.tabs) : this.openTab();
  }

  killAll() {
    for (const tab of [...this.tabs]) tab.die();
  }

  // The book's own sign-in page, as a person uses it.
  async signIn(person) {
    const { port, password } = this.world;
    const address = `http://127.0.0.1:${port}/sign-in/`;
    let why;
    for (let n = 0; n < 60; n += 1) {
      if (n) await new Promise((go) => { timer(go, 100); });
      try {
        this.jar.delete("sessionid");
        const form = await this.reach(address, {});
        await form.text();
        const body = new URLSearchParams({
          email: person.email, password, csrfmiddlewaretoken: this.jar.get("csrftoken"),
        });
        const answer = await this.reach(address, { method: "POST", body });
        await answer.text();
        if (answer.status === 302 && this.jar.has("sessionid")) {
          this.signedIn = person;
          return;
        }
        why = answer.status;
      } catch (fault) {
        why = fault.cause ?? fault;
      }
    }
    throw new Error(`${person.email} cannot sign in: ${why}`);
  }

  async reach(url, { headers, ...options }) {
    const answer = await networkFetch(url, {
      redirect: "manual", ...options, headers: { ...headers, Cookie: this.cookies() },
    });
    for (const line of answer.headers.getSetCookie()) {
      const [name, value] = line.split(";")[0].split(/=(.*)/);
      if (value === "" || /max-age=0/i.test(line)) this.jar.delete(name);
      else this.jar.set(name, value);
    }
    return answer;
  }

  // What is on the phone now, read by a browser opened anew.
  async outbox() {
    const store = openOutbox({ factory: this.factory });
    const entries = await store.list();
    const held = [];
    for (const entry of entries) {
      const bytes = entry.kind === "photo" ? await store.bytesOf(entry.key) : null;
      const whole = entry.kind !== "photo" || bytes?.byteLength === entry.size;
      held.push({ key: entry.key, state: entry.state, reason: entry.reason, whole });
    }
    return held;
  }

  report() {
    return {
      accepted: Object.fromEntries(this.accepted), attempted: [...this.attempted],
    };
  }
}

class Tab {
  constructor(phone) {
    this.phone = phone;
    this.dead = false;
    this.steps = 0;
    this.diesAt = Infinity;
    this.fullAt = Infinity;
    this.lines = new Set();
    this.gone = new Promise((gone) => { this.sayGone = () => gone({ end: "dead" }); });
    this.open = new Set();
    const store = openOutbox({ factory: this.#disk(phone.factory) });
    this.store = Object.fromEntries(Object.entries(store).map(
      ([name, act]) => [name, (...said) => this.step(() => act(...said))],
    ));
    const address = `http://127.0.0.1:${phone.world.port}/inbox/`;
    this.sender = makeSender({
      store: this.store,
      hello: () => this.step(() => greet({ address })),
      send: (entry, bytes, moment, rest) => this.step(
        () => post(entry, bytes, moment, { ...rest, address }),
      ),
      carry: phone.bug === "removed first" ? hasty : deliver,
      moment: phone.moment,
      online: () => true,
      locks: this.#locks(),
      later: () => null,
      never: () => {},
    });
  }

  #locks() {
    const { locking, locks } = this.phone;
    if (locking === "broken") {
      return { request: (_name, _how, work) => work({}) };
    }
    return locks && {
      request: (...said) => at.run(this, () => locks.request(...said)),
      query: () => locks.query(),
    };
  }

  // The phone's disk, as this tab has it open: it may be full, and what is not complete
  // when the browser dies may be lost.
  #disk(factory) {
    return {
      open: (...said) => {
        const request = factory.open(...said);
        request.addEventListener("success", () => {
          const base = request.result;
          const begin = base.transaction.bind(base);
          base.transaction = (...names) => {
            const transaction = begin(...names);
            this.open.add(transaction);
            const over = () => this.open.delete(transaction);
            transaction.addEventListener("complete", over);
            transaction.addEventListener("abort", over);
            if (names[1] === "readwrite" && this.full) this.#fill(transaction);
            return transaction;
          };
        });
        return request;
      },
    };
  }

  #fill(transaction) {
    setImmediate(() => {
      if (this.open.has(transaction)) transaction._abort("QuotaExceededError");
    });
  }

  // Everything a page waits for goes through here: after its death it gets no answer.
  async step(act) {
    if (this.dead) return never;
    this.steps += 1;
    if (this.steps >= this.diesAt) {
      this.die();
      return never;
    }
    try {
      const answer = await at.run(this, act);
      return this.dead ? never : answer;
    } catch (fault) {
      if (this.dead) return never;
      throw fault;
    }
  }

  fetch(url, options) {
    const line = new AbortController();
    this.lines.add(line);
    options.signal?.addEventListener("abort", () => line.abort(options.signal.reason));
    const headers = { ...options.headers, ...this.phone.faults() };
    return this.phone.reach(url, { ...options, headers, signal: line.signal })
      .finally(() => this.lines.delete(line));
  }

  die() {
    if (this.dead) return;
    this.dead = true;
    this.sayGone();
    for (const line of this.lines) line.abort();
    for (const transaction of this.open) {
      if (this.phone.chance.is(0.5)) {
        try { transaction.abort(); } catch { /* it is being completed */ }
      }
    }
    this.phone.locks?.freedBy(this);
    this.phone.tabs = this.phone.tabs.filter((tab) => tab !== this);
  }

  nudge() {
    return Promise.race([this.sender.nudge(), this.gone]);
  }

  // Save as the form does: the record, then each of its photos by itself. Accepted is what
  // the person was told is kept.
  async save(entries, notes) {
    const [first] = entries;
    const kept = [];
    for (const entry of entries) {
      this.phone.attempted.add(entry.key);
      try {
        await Promise.race([
          this.store.put([entry]),
          this.gone.then(() => { throw new Error("dead"); }),
        ]);
        kept.push(entry);
      } catch {
        if (entry === first && entry.kind !== "photo") return false;
      }
    }
    for (const { bytes, ...entry } of kept) {
      const before = this.phone.accepted.get(entry.key);
      this.phone.accepted.set(entry.key, before
        ? { ...before, mended: true }
        : { ...notes, kind: entry.kind, person: entry.person, tree: entry.fields.tree,
          parent: entry.fields.inspection, made_at: entry.made_at,
          order: (this.phone.count += 1) });
    }
    return kept.length > 0;
  }
}

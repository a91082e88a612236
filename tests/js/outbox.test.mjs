// The outbox against a store and a server that only remember: every answer, every end.
import assert from "node:assert/strict";
import { test } from "node:test";

import { deliver, makeSender, nextOf, waitAfter } from "../../static/js/outbox/send.js";
import { makeTurns } from "../../static/js/outbox/turns.js";
import { greet, post, readAnswer, written } from "../../static/js/outbox/wire.js";

const VERA = 7;
const LEE = 8;

function look(key, rest = {}) {
  return {
    key, kind: "inspection", orchard: "alderbrook", person: VERA, person_name: "Vera",
    made_at: "2026-05-12T09:00:00.000Z", fields: { tree: "A-1", form: [["all_well", "1"]] },
    title: "A-1", state: "waiting", revision: 1, tries: 0, ...rest,
  };
}

function photo(key, inspection, rest = {}) {
  return look(key, { kind: "photo", fields: { inspection, file_name: "a.jpg" }, ...rest });
}

// A store in memory that notes what was done to it, in order.
function aStore(entries) {
  const rows = new Map(entries.map((entry) => [entry.key, entry]));
  const done = [];
  return {
    rows,
    done,
    told: [],
    list: async () => [...rows.values()],
    bytesOf: async () => new ArrayBuffer(3),
    async mark(key, changes) {
      done.push(["mark", key, changes]);
      if (rows.has(key)) rows.set(key, { ...rows.get(key), ...changes });
    },
    async remove(key, revision, news) {
      done.push(["remove", key]);
      if (rows.get(key)?.revision !== revision) return false;
      rows.delete(key);
      this.told.push({ key, ...news });
      return true;
    },
    marks: new Map(),
    recall: async function recall(name) { return this.marks.get(name); },
    remember: async function remember(name, value) { this.marks.set(name, value); },
    held: null,
    async lease(holder, until, now) {
      if (this.held && this.held.holder !== holder && this.held.until > now) return false;
      this.held = { holder, until };
      return true;
    },
  };
}

const said = (key, answer, rest = {}, status = 200) => ({
  status,
  text: JSON.stringify({
    version: 1, key, answer, reason: "", url: `/of/${key}/`, retry_after: null,
    server_time: "2026-05-12T09:01:00Z", notices: [], ...rest,
  }),
});

function aSender(store, send, rest = {}) {
  const sent = [];
  const timers = [];
  const steps = [];
  const sender = makeSender({
    store,
    hello: async () => ({ version: 1, person: VERA, person_name: "Vera", server_time: "" }),
    send: async (entry, bytes, moment) => {
      sent.push(entry.key);
      return send(entry, bytes, moment);
    },
    locks: null,
    later: (act, ms) => timers.push({ act, ms }),
    never: () => {},
    online: () => true,
    told: (step) => steps.push(step),
    ...rest,
  });
  return { ...sender, sent, timers, steps };
}

test("records go before photos, oldest first, and each leaves on its receipt", async () => {
  const store = aStore([look("a"), photo("b", "a"), look("c"), photo("d", "")]);
  const sender = aSender(store, (entry) => said(entry.key, "kept"));
  const result = await sender.nudge();
  assert.deepEqual(sender.sent, ["a", "c", "b", "d"]);
  assert.equal(store.rows.size, 0);
  assert.equal(result.end, "empty");
  assert.equal(result.sent, 4);
  assert.equal(store.told[0].url, "/of/a/");
  assert.equal(store.told[0].all_well, true);
  assert.deepEqual(sender.timers, []);
});

test("the news of a photo without a word says so", async () => {
  const fields = { tree: "A-1", form: [], photos_follow: true };
  const store = aStore([look("a", { fields }), look("b")]);
  await aSender(store, (entry) => said(entry.key, "kept")).nudge();
  assert.deepEqual(store.told.map(({ key, photo_only }) => [key, photo_only]), [["a", true], ["b", false]]);
});

test("an entry that came in before is let go like one that is kept", async () => {
  const store = aStore([look("a")]);
  await aSender(store, () => said("a", "already")).nudge();
  assert.equal(store.rows.size, 0);
});

test("the entry is removed after the answer was read, never before", async () => {
  const store = aStore([look("a")]);
  const order = [];
  const remove = store.remove.bind(store);
  store.remove = async (...what) => { order.push("removed"); return remove(...what); };
  await deliver(look("a"), {
    store,
    moment: () => "now",
    send: async () => { order.push("sent"); return said("a", "kept"); },
  });
  assert.deepEqual(order, ["sent", "removed"]);
});

for (const [what, answer] of [
  ["a page instead of an answer", { status: 200, text: "<!doctype html><title>Wi-Fi</title>" }],
  ["an answer of another version", { status: 200, text: JSON.stringify({ version: 2, key: "a", answer: "kept" }) }],
  ["a receipt for another entry", said("other", "kept")],
  ["a receipt without a key", said("", "kept", {}, 400)],
  ["a receipt with a strange status", said("a", "kept", {}, 500)],
  ["an unknown answer", said("a", "perhaps")],
  ["nothing at all", { status: 502, text: "" }],
  ["a null", { status: 200, text: "null" }],
]) {
  test(`${what} is no receipt: the entry stays`, async () => {
    const store = aStore([look("a"), look("b")]);
    const sender = aSender(store, () => answer);
    const result = await sender.nudge();
    assert.equal(store.rows.size, 2);
    assert.equal(result.end, "server");
    assert.deepEqual(sender.sent, ["a"]);
    assert.equal(sender.timers.length, 1);
  });
}

test("a dead line stops the sending and is tried again, ever more slowly", async () => {
  const store = aStore([look("a"), look("b")]);
  const sender = aSender(store, () => { throw new TypeError("Failed to fetch"); });
  assert.equal((await sender.nudge()).end, "offline");
  assert.deepEqual(sender.sent, ["a"]);
  assert.equal(store.rows.get("a").tries, 1);
  await sender.timers.at(-1).act();
  await sender.timers.at(-1).act();
  const waits = sender.timers.map(({ ms }) => ms);
  assert.ok(waits[0] <= 2000 && waits[1] > 2000 && waits[2] > 5000, waits);
});

test("the wait grows to a minute and no further", () => {
  assert.equal(waitAfter(1, 1), 2000);
  assert.equal(waitAfter(3, 1), 8000);
  assert.equal(waitAfter(30, 1), 60000);
  assert.ok(waitAfter(2, 0) < waitAfter(2, 1));
});

test("a phone that knows it is offline does not even try", async () => {
  const store = aStore([look("a")]);
  const sender = aSender(store, () => assert.fail(), { online: () => false, hello: () => assert.fail() });
  assert.equal((await sender.nudge()).end, "offline");
});

test("a greeting that fails, or that is not ours, sends nothing", async () => {
  for (const [hello, end] of [
    [async () => { throw new TypeError(); }, "offline"],
    [async () => null, "server"],
  ]) {
    const sender = aSender(aStore([look("a")]), () => assert.fail(), { hello });
    assert.equal((await sender.nudge()).end, end);
  }
});

test("signed out: nothing is sent, and nothing is tried until somebody comes", async () => {
  const store = aStore([look("a")]);
  const sender = aSender(store, () => assert.fail(), { hello: async () => ({ person: null }) });
  assert.equal((await sender.nudge()).end, "signed out");
  assert.deepEqual(sender.timers, []);
  assert.equal(store.rows.size, 1);
});

test("a session that ends on the way stops the sending", async () => {
  const store = aStore([look("a"), look("b")]);
  const sender = aSender(store, () => said("", "wait", { reason: "Sign in" }, 401));
  assert.equal((await sender.nudge()).end, "signed out");
  assert.deepEqual(sender.sent, ["a"]);
});

test("what another person recorded stays until that person signs in", async () => {
  const store = aStore([look("a", { person: LEE }), look("b")]);
  const sender = aSender(store, (entry) => said(entry.key, "kept"));
  await sender.nudge();
  assert.deepEqual(sender.sent, ["b"]);
  assert.deepEqual([...store.rows.keys()], ["a"]);
});

test("a refused entry stays with its reason and holds nobody up", async () => {
  const store = aStore([look("a"), look("b")]);
  const sender = aSender(store, (entry) => (entry.key === "a"
    ? said("a", "refused", { reason: "There is no tree A-1." }, 422) : said("b", "kept")));
  const result = await sender.nudge();
  assert.equal(result.end, "empty");
  assert.equal(store.rows.get("a").state, "refused");
  assert.equal(store.rows.get("a").reason, "There is no tree A-1.");
  assert.deepEqual([...store.rows.keys()], ["a"]);
  await sender.nudge();
  assert.deepEqual(sender.sent, ["a", "b"]);
});

test("a refusal that names no key is one when its status says so", () => {
  assert.equal(readAnswer(said("", "refused", {}, 413), "a").answer, "refused");
  assert.equal(readAnswer(said("", "refused", {}, 200), "a").answer, "wait");
});

test("what a server on the way finds too large is refused, and the others go on", async () => {
  const proxy = { status: 413, text: "<html>413 Request Entity Too Large</html>" };
  const store = aStore([photo("a", ""), look("b")]);
  const sender = aSender(store, (entry) => (entry.key === "a" ? proxy : said("b", "kept")));
  const result = await sender.nudge();
  assert.equal(result.end, "empty");
  assert.equal(store.rows.get("a").state, "refused");
  assert.match(store.rows.get("a").reason, /no file this large/);
  await sender.nudge();
  assert.deepEqual(sender.sent, ["b", "a"]);
});

test("the photo of a record that is still here does not go before it", async () => {
  const store = aStore([look("a", { state: "refused" }), photo("b", "a"), photo("c", "gone")]);
  const sender = aSender(store, (entry) => said(entry.key, "kept"));
  await sender.nudge();
  assert.deepEqual(sender.sent, ["c"]);
});

test("a photo whose record the server does not know waits, and others go on", async () => {
  const store = aStore([photo("a", "x"), photo("b", "y")]);
  const sender = aSender(store, (entry) => (entry.key === "a"
    ? said("a", "wait", { reason: "Its record has not come in yet" }, 202) : said("b", "kept")));
  const result = await sender.nudge();
  assert.deepEqual(sender.sent, ["a", "b"]);
  assert.equal(result.end, "empty");
  assert.equal(store.rows.get("a").state, "waiting");
  assert.match(store.rows.get("a").reason, /has not come in/);
});

test("a record that must wait holds the later ones back: the order stays", async () => {
  const store = aStore([look("a"), look("b")]);
  const sender = aSender(store, () => said("a", "wait", {}, 202));
  assert.equal((await sender.nudge()).end, "server");
  assert.deepEqual(sender.sent, ["a"]);
});

test("throttled: it waits as long as it was told", async () => {
  const sender = aSender(aStore([look("a")]), () => said("a", "wait", { retry_after: 45 }, 429));
  assert.equal((await sender.nudge()).end, "wait");
  assert.equal(sender.timers[0].ms, 45000);
});

test("a token gone stale is renewed once and the entry sent again at once", async () => {
  const store = aStore([look("a")]);
  let greeted = 0;
  const stale = { status: 403, text: "<h1>CSRF</h1>" };
  const sender = aSender(store, () => (greeted < 2 ? stale : said("a", "kept")), {
    hello: async () => { greeted += 1; return { person: VERA }; },
  });
  assert.equal((await sender.nudge()).end, "empty");
  assert.deepEqual(sender.sent, ["a", "a"]);
});

test("a token that stays stale is no endless loop", async () => {
  const sender = aSender(aStore([look("a")]), () => ({ status: 403, text: "no" }));
  assert.equal((await sender.nudge()).end, "server");
  assert.deepEqual(sender.sent, ["a", "a"]);
});

test("whoever is signed in when the token is renewed decides who sends", async () => {
  let greeted = 0;
  const sender = aSender(aStore([look("a")]), () => ({ status: 403, text: "no" }), {
    hello: async () => { greeted += 1; return { person: greeted === 1 ? VERA : LEE }; },
  });
  assert.equal((await sender.nudge()).end, "signed out");
  assert.deepEqual(sender.sent, ["a"]);
});

test("an entry the server cannot digest holds up the others only so long", async () => {
  const store = aStore([look("a"), look("b")]);
  const sender = aSender(store, (entry) => (entry.key === "a"
    ? { status: 500, text: "<h1>500</h1>" } : said("b", "kept")));
  for (let n = 0; n < 4; n += 1) {
    assert.equal((await sender.nudge()).end, "server");
    assert.equal(store.rows.size, 2);
  }
  assert.equal((await sender.nudge()).end, "empty");
  assert.deepEqual([...store.rows.keys()], ["a"]);
});

test("no unclear answer lets the next entry overtake on a phone too full to note it", async () => {
  const store = aStore([look("a"), look("b")]);
  store.mark = async () => { throw Object.assign(new Error("full"), { name: "StoreFailed" }); };
  const sender = aSender(store, (entry) => (entry.key === "a"
    ? { status: 500, text: "<h1>500</h1>" } : said("b", "kept")));
  for (let n = 0; n < 4; n += 1) {
    assert.equal((await sender.nudge()).end, "server");
    assert.deepEqual([...store.rows.keys()], ["a", "b"]);
  }
  assert.equal((await sender.nudge()).end, "empty");
  assert.deepEqual([...store.rows.keys()], ["a"]);
});

test("an entry mended while it was on its way is not taken for the delivered one", async () => {
  const store = aStore([look("a")]);
  const sender = aSender(store, (entry) => {
    if (entry.revision === 1) store.rows.set("a", look("a", { revision: 2, title: "mended" }));
    return entry.revision === 1 ? said("a", "kept") : said("a", "refused", { reason: "Another" }, 422);
  });
  await sender.nudge();
  assert.equal(store.rows.get("a").title, "mended");
  assert.equal(store.rows.get("a").state, "refused");
});

test("what is asked for while it sends is done right after", async () => {
  const store = aStore([look("a")]);
  const sender = aSender(store, (entry) => {
    if (entry.key === "a") store.rows.set("b", look("b"));
    return said(entry.key, "kept");
  });
  const first = sender.nudge();
  assert.equal(sender.nudge(), first);
  await first;
  assert.deepEqual(sender.sent, ["a", "b"]);
});

test("a store that fails ends the sending and is tried again", async () => {
  const store = aStore([look("a")]);
  store.list = async () => { throw Object.assign(new Error("gone"), { name: "StoreFailed" }); };
  const sender = aSender(store, () => assert.fail());
  assert.equal((await sender.nudge()).end, "store");
  assert.equal(sender.timers.length, 1);
});

test("a store that fails after the server took it: the entry comes again, as the same", async () => {
  const store = aStore([look("a")]);
  const { remove } = store;
  store.remove = async () => { throw Object.assign(new Error("gone"), { name: "StoreFailed" }); };
  const sender = aSender(store, () => said("a", "kept"));
  assert.equal((await sender.nudge()).end, "store");
  assert.equal(store.rows.size, 1);
  store.remove = remove;
  await sender.nudge();
  assert.equal(store.rows.size, 0);
});

test("a phone too full to note anything still sends the others, and each once in a pass", async () => {
  const store = aStore([look("a"), look("b"), look("c")]);
  store.mark = async () => { throw Object.assign(new Error("full"), { name: "StoreFailed" }); };
  const sender = aSender(store, ({ key }) => (key === "a" ? said("a", "refused", {}, 422) : said(key, "kept")));
  assert.equal((await sender.nudge()).end, "empty");
  assert.deepEqual(sender.sent, ["a", "b", "c"]);
  assert.deepEqual([...store.rows.keys()], ["a"]);
});

test("one tab at a time sends; without locks a lease decides", async () => {
  const store = aStore([look("a")]);
  store.held = { holder: "another tab", until: Date.now() + 60_000 };
  const sender = aSender(store, (entry) => said(entry.key, "kept"));
  assert.equal((await sender.nudge()).end, "elsewhere");
  assert.deepEqual(sender.sent, []);
  store.held.until = Date.now() - 1;
  await sender.nudge();
  assert.deepEqual(sender.sent, ["a"]);
});

test("a tab that sleeps on the lock is passed by after a while", async () => {
  const asked = [];
  const locks = {
    request: async (name, how, act) => {
      if (name === "orchard-outbox-sending") asked.push(how);
      return act(how.steal ? {} : null);
    },
    // It holds the entry as well, which stops nobody.
    query: async () => ({ held: [{ name: "orchard-mend a", mode: "exclusive" }] }),
  };
  const store = aStore([look("a")]);
  const sender = aSender(store, (entry) => said(entry.key, "kept"), { locks });
  for (let n = 0; n < 3; n += 1) assert.equal((await sender.nudge()).end, "elsewhere");
  assert.equal((await sender.nudge()).end, "empty");
  assert.deepEqual(asked.map((how) => Boolean(how.steal)), [false, false, false, true]);
});

test("a tab that is heard of keeps the lock however long it sends", async () => {
  const asked = [];
  const locks = { request: async (name, how, act) => { asked.push(how); return act(null); } };
  const sender = aSender(aStore([look("a")]), () => assert.fail(), { locks });
  for (let n = 0; n < 6; n += 1) {
    assert.equal((await sender.nudge()).end, "elsewhere");
    sender.hear();
  }
  assert.ok(asked.every((how) => !how.steal));
});

test("a lock that is taken away ends this tab's sending quietly", async () => {
  const locks = { request: async () => { throw Object.assign(new Error(), { name: "AbortError" }); } };
  const sender = aSender(aStore([look("a")]), () => assert.fail(), { locks });
  assert.equal((await sender.nudge()).end, "elsewhere");
});

// A lock manager as far as entries need it: shared holders beside each other, or one alone.
function aManager() {
  const held = [];
  const waiting = [];
  const fits = ({ name, mode }) => held.every((one) => one.name !== name || (one.mode === "shared" && mode === "shared"));
  const run = async (one, act) => {
    held.push(one);
    try {
      return await act({});
    } finally {
      held.splice(held.indexOf(one), 1);
      for (const next of waiting.splice(0)) next();
    }
  };
  return {
    query: async () => ({ held: held.map((one) => ({ ...one })) }),
    async request(name, { mode = "exclusive", ifAvailable, signal }, act) {
      const one = { name, mode };
      while (!fits(one)) {
        if (ifAvailable) return act(null);
        await new Promise((go, stop) => {
          waiting.push(go);
          signal?.addEventListener("abort", () => stop(signal.reason));
        });
      }
      return run(one, act);
    },
  };
}

for (const [engine, locks] of [["with locks", aManager()], ["without", null]]) {
  test(`an entry that somebody has open to change is passed by until it is let go, ${engine}`, async () => {
    const store = aStore([look("a"), photo("p", "a"), look("b")]);
    const close = await makeTurns(store, locks).open("a");
    const sender = aSender(store, (entry) => said(entry.key, "kept"), { locks });
    assert.equal((await sender.nudge()).end, "empty");
    assert.deepEqual(sender.sent, ["b"]);
    assert.equal(store.rows.get("a").tries, 0);
    assert.ok(sender.steps.some(({ step, entry }) => step === "open" && entry.key === "a"));
    await close();
    await sender.nudge();
    assert.deepEqual(sender.sent, ["b", "a", "p"]);
  });
}

test("an entry on its way opens when the answer has come, or when nobody waits any longer", async () => {
  const locks = aManager();
  const store = aStore([look("a")]);
  let answer;
  const sender = aSender(store, () => new Promise((come) => { answer = () => come(said("a", "kept")); }), { locks });
  const sending = sender.nudge();
  await new Promise((go) => { setTimeout(go, 5); });
  const turns = makeTurns(store, locks);
  await (await turns.open("a", { patience: 10 }))();
  let isOpen = false;
  const opening = turns.open("a").then((close) => { isOpen = true; return close; });
  await new Promise((go) => { setTimeout(go, 5); });
  assert.equal(isOpen, false);
  answer();
  await sending;
  await (await opening)();
  assert.equal(store.rows.size, 0);
});

test("a change that came too late knows where the record is that was saved", async () => {
  const store = aStore([look("a")]);
  await aSender(store, () => said("a", "refused", { reason: "It was saved as it was before." }, 422)).nudge();
  assert.equal(store.rows.get("a").url, "/of/a/");
});

test("whose turn it is", () => {
  const all = [photo("p", ""), look("a", { state: "refused" }), look("b"), look("c", { person: LEE })];
  assert.equal(nextOf(all, VERA).key, "b");
  assert.equal(nextOf(all, VERA, new Set(["b"])).key, "p");
  assert.equal(nextOf(all, LEE).key, "c");
  assert.equal(nextOf([], VERA), null);
  const deed = look("d", { kind: "closure", fields: { task: "12", form: [] } });
  assert.equal(nextOf([photo("q", "d"), deed], VERA).key, "d");
});

// The wire

test("an entry is written the same at every sending but for its moment", () => {
  const entry = look("a", { tries: 4, reason: "x", state: "waiting", size: 9 });
  const [one, two] = ["1", "2"].map((moment) => JSON.parse(written(entry, moment)));
  assert.notEqual(one.sent_at, two.sent_at);
  assert.deepEqual({ ...one, sent_at: "" }, { ...two, sent_at: "" });
  assert.deepEqual(Object.keys(one), ["version", "key", "kind", "orchard", "person", "made_at", "sent_at", "fields"]);
});

test("a greeting is ours or it is none", async () => {
  const giving = (text) => async () => ({ text: async () => text });
  const ours = { version: 1, person: null, server_time: "" };
  assert.deepEqual(await greet({ fetching: giving(JSON.stringify(ours)) }), ours);
  for (const text of ["<html>", "{}", '{"version":2,"person":1}', '{"version":1}', "null"]) {
    assert.equal(await greet({ fetching: giving(text) }), null);
  }
});

test("an entry goes out with the token of this very moment", async () => {
  const asked = [];
  globalThis.document = { cookie: "csrftoken=early" };
  globalThis.fetch = async (address, how) => {
    asked.push({ address, how });
    return { status: 200, text: async () => "{}" };
  };
  await post(look("a"), null, "now");
  document.cookie = "csrftoken=late";
  await post(photo("b", "a", { file_type: "image/jpeg" }), new ArrayBuffer(5), "now");
  const [first, second] = asked.map(({ how }) => how);
  assert.equal(first.headers["X-CSRFToken"], "early");
  assert.equal(second.headers["X-CSRFToken"], "late");
  assert.equal(JSON.parse(first.body.get("entry")).key, "a");
  assert.equal(first.body.get("file"), null);
  assert.equal(second.body.get("file").size, 5);
  assert.equal(second.body.get("file").name, "a.jpg");
  assert.equal(second.body.get("file").type, "image/jpeg");
});

class Carrier {
  upload = {};

  static made = [];

  constructor() { Carrier.made.push(this); this.headers = {}; }

  open(method, address) { Object.assign(this, { method, address }); }

  setRequestHeader(name, value) { this.headers[name] = value; }

  send(body) { this.body = body; }

  abort() { this.onabort(); }
}

test("a photo tells how far it has come, and a dead line is a dead line", async (t) => {
  globalThis.XMLHttpRequest = Carrier;
  t.after(() => { delete globalThis.XMLHttpRequest; });
  t.mock.timers.enable({ apis: ["setTimeout"] });
  const shares = [];
  const going = post(photo("b", "a"), new ArrayBuffer(5), "now", { moved: (share) => shares.push(share) });
  const request = Carrier.made.at(-1);
  assert.equal(request.headers["X-CSRFToken"], "late");
  request.upload.onprogress({ lengthComputable: true, loaded: 1, total: 4 });
  request.upload.onprogress({ lengthComputable: false });
  Object.assign(request, { status: 200, responseText: "{}" });
  request.onload();
  assert.deepEqual(await going, { status: 200, text: "{}" });
  assert.deepEqual(shares, [0.25]);

  const silent = post(photo("b", "a"), new ArrayBuffer(5), "now");
  t.mock.timers.tick(59_000);
  Carrier.made.at(-1).upload.onprogress({ lengthComputable: false });
  t.mock.timers.tick(59_000);
  t.mock.timers.tick(2_000);
  await assert.rejects(silent, TypeError);

  const broken = post(photo("b", "a"), new ArrayBuffer(5), "now");
  Carrier.made.at(-1).onerror();
  await assert.rejects(broken, TypeError);
});

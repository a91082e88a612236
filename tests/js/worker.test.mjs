// The service worker, run against caches and a network that are only played.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { fileURLToPath } from "node:url";
import vm from "node:vm";

const HOST = "https://orchard.example";
const SCRIPT = readFileSync(fileURLToPath(new URL("../../templates/offline/worker.js", import.meta.url)), "utf8");

const key = (asked) => new URL(asked.url ?? asked, HOST).href;

class FakeCache {
  rows = new Map();

  constructor(network) { this.network = network; }

  async match(asked, { ignoreSearch } = {}) {
    const bare = (url) => url.split("?")[0];
    for (const [url, answer] of this.rows) {
      if (url === key(asked) || (ignoreSearch && bare(url) === bare(key(asked)))) return answer.clone();
    }
    return undefined;
  }

  async put(asked, answer) {
    this.rows.delete(key(asked));
    this.rows.set(key(asked), answer);
  }

  async addAll(list) {
    for (const asked of list) {
      const came = await this.network(asked);
      if (!came.ok) throw new TypeError("addAll");
      this.rows.set(key(asked), came);
    }
  }

  async delete(asked) { return this.rows.delete(key(asked)); }

  async keys() { return [...this.rows.keys()].map((url) => ({ url })); }
}

// What the network says of each address: a text, a Response, an Error, or a function.
function aWorker({ files = [], shells = ["/outbox/", "/offline/"], version = "one", all = new Map() } = {}) {
  const says = new Map();
  const asked = [];
  const heard = {};
  async function network(request) {
    const url = new URL(request.url ?? request, HOST);
    asked.push({ path: url.pathname + url.search, credentials: request.credentials });
    let said = says.get(url.pathname + url.search) ?? says.get(url.pathname);
    if (typeof said === "function") said = await said(request);
    if (said === undefined) throw new TypeError("no line");
    if (said instanceof Error) throw said;
    if (typeof said === "string") {
      return new Response(said, { headers: { "content-type": "text/html; charset=utf-8", date: "Tue, 12 May 2026 09:00:00 GMT" } });
    }
    return said;
  }
  const caches = {
    async open(name) {
      if (!all.has(name)) all.set(name, new FakeCache(network));
      all.get(name).network = network;
      return all.get(name);
    },
    keys: async () => [...all.keys()],
    delete: async (name) => all.delete(name),
  };
  const self = {
    location: { origin: HOST, href: `${HOST}/worker.js`, toString: () => `${HOST}/worker.js` },
    addEventListener: (name, act) => { heard[name] = act; },
    clients: {
      claimed: 0,
      async claim() { this.claimed += 1; },
      pages: [],
      async matchAll() { return this.pages; },
    },
    skipped: 0,
    async skipWaiting() { this.skipped += 1; },
    navigator: { locks: { held: [], async query() { return { held: this.held }; } } },
  };
  const timers = [];
  const context = vm.createContext({
    self, caches, fetch: network, URL, Response, Date, Set, Promise, Error,
    Request: class { constructor(url, rest) { this.url = new URL(url, HOST).href; Object.assign(this, rest); } },
    setTimeout: (act) => { timers.push(act); return timers.length; },
    clearTimeout: () => {},
  });
  vm.runInContext(SCRIPT.replace("{{ settings|safe }}", JSON.stringify({ version, files, shells, drawings: { pack: "", names: {} } })), context);

  async function life(name, more = {}) {
    const waits = [];
    heard[name]({ waitUntil: (one) => waits.push(one), ...more });
    await Promise.all(waits);
  }
  async function ask(path, { method = "GET", mode = "navigate" } = {}) {
    const waits = [];
    let given;
    heard.fetch({
      request: { url: new URL(path, HOST).href, method, mode },
      respondWith: (one) => { given = one; },
      waitUntil: (one) => waits.push(one),
    });
    const came = given && await given;
    await Promise.all(waits);
    return came;
  }
  const names = () => [...all.keys()].sort();
  const held = (name) => [...(all.get(name)?.rows.keys() ?? [])].map((url) => url.slice(HOST.length));
  const late = () => { for (const act of timers.splice(0)) act(); };
  return { says, asked, life, ask, all, names, held, late, self, message: (data, port) => life("message", { data, ports: [port] }) };
}

const page = (person, text = "page") => `<!doctype html><body class="inside" data-person="${person}">${text}`;
const textOf = async (came) => came.text();
const TREE = "/alderbrook/trees/A-1/";

test("it brings its files and the shells, the shells without anybody's cookies", async () => {
  const worker = aWorker({ files: ["/static/a.0123456789ab.js", "/static/b.js"] });
  for (const path of ["/static/a.0123456789ab.js", "/static/b.js", "/outbox/", "/offline/"]) worker.says.set(path, "x");
  await worker.life("install");
  assert.deepEqual(worker.names(), ["shells one", "static"]);
  assert.deepEqual(worker.held("static"), ["/static/a.0123456789ab.js", "/static/b.js"]);
  const shells = worker.asked.filter(({ path }) => path.endsWith("/"));
  assert.deepEqual(shells.map((one) => one.credentials), ["omit", "omit"]);
});

test("a newer worker brings only what is new, and clears up what is old", async () => {
  const one = aWorker({ files: ["/static/a.0123456789ab.js", "/static/b.js"] });
  for (const path of ["/static/a.0123456789ab.js", "/static/b.js", "/outbox/", "/offline/"]) one.says.set(path, "x");
  await one.life("install");
  const two = aWorker({ files: ["/static/a.0123456789ab.js", "/static/c.js"], version: "two", all: one.all });
  for (const path of ["/static/c.js", "/outbox/", "/offline/"]) two.says.set(path, "y");
  await two.life("install");
  assert.deepEqual(two.asked.map(({ path }) => path), ["/static/c.js", "/outbox/", "/offline/"]);
  await two.life("activate");
  assert.deepEqual(two.names(), ["shells two", "static"]);
  assert.deepEqual(two.held("static"), ["/static/a.0123456789ab.js", "/static/c.js"]);
  assert.equal(two.self.clients.claimed, 1);
  const kept = two.all.get("static");
  const hex = (n) => n.toString(16).padStart(12, "0");
  for (let n = 0; n < 205; n += 1) await kept.put(`/static/old.${hex(n)}.js`, new Response("o"));
  await two.life("activate");
  const left = two.held("static").filter((path) => path.includes("/old."));
  assert.deepEqual([left.length, left[0]], [200, `/static/old.${hex(5)}.js`]);
});

test("an install that misses a file does not count", async () => {
  const worker = aWorker({ files: ["/static/gone.js"] });
  await assert.rejects(worker.life("install"));
});

test("hashed files come from the phone, the others from the network first", async () => {
  const worker = aWorker();
  worker.says.set("/static/a.0123456789ab.js", "a1");
  worker.says.set("/static/b.js", "b1");
  for (const path of ["/static/a.0123456789ab.js", "/static/b.js"]) await worker.ask(path, { mode: "cors" });
  worker.says.set("/static/a.0123456789ab.js", "a2");
  worker.says.set("/static/b.js", "b2");
  assert.equal(await textOf(await worker.ask("/static/a.0123456789ab.js", { mode: "cors" })), "a1");
  assert.equal(await textOf(await worker.ask("/static/b.js", { mode: "cors" })), "b2");
  worker.says.clear();
  assert.equal(await textOf(await worker.ask("/static/b.js", { mode: "cors" })), "b2");
  await assert.rejects(worker.ask("/static/never.js", { mode: "cors" }), TypeError);
});

test("a page comes from the network and is kept for its person", async () => {
  const worker = aWorker();
  worker.says.set(TREE, page(7, "fresh"));
  assert.match(await textOf(await worker.ask(TREE)), /fresh/);
  assert.deepEqual(worker.names(), ["pages-7"]);
  worker.says.clear();
  assert.match(await textOf(await worker.ask(TREE)), /fresh/);
});

test("a slow network is not waited for where a copy is here, and still refreshes it", async () => {
  const worker = aWorker();
  worker.says.set(TREE, page(7, "old"));
  await worker.ask(TREE);
  let arrive;
  worker.says.set(TREE, () => new Promise((go) => { arrive = () => go(new Response(page(7, "new"), { headers: { "content-type": "text/html" } })); }));
  const going = worker.ask(TREE);
  await new Promise((go) => { setImmediate(go); });
  worker.late();
  setTimeout(() => arrive(), 5);
  assert.match(await textOf(await going), /old/);
  worker.says.clear();
  assert.match(await textOf(await worker.ask(TREE)), /new/);
});

test("without a copy the slow network is waited for", async () => {
  const worker = aWorker();
  let arrive;
  worker.says.set(TREE, () => new Promise((go) => { arrive = go; }));
  const going = worker.ask(TREE);
  await new Promise((go) => { setImmediate(go); });
  worker.late();
  arrive(new Response(page(7, "late"), { headers: { "content-type": "text/html" } }));
  assert.match(await textOf(await going), /late/);
});

test("without a copy and without a line it says so", async () => {
  const worker = aWorker();
  worker.says.set("/outbox/", "outbox shell");
  worker.says.set("/offline/", "no signal shell");
  await worker.life("install");
  worker.says.clear();
  assert.match(await textOf(await worker.ask(TREE)), /no signal/);
  assert.match(await textOf(await worker.ask("/outbox/?x=1")), /outbox shell/);
});

test("a proxy that says the server is away counts as no line", async () => {
  const worker = aWorker();
  worker.says.set(TREE, page(7, "mine"));
  await worker.ask(TREE);
  worker.says.set(TREE, new Response("Bad gateway", { status: 502 }));
  assert.match(await textOf(await worker.ask(TREE)), /mine/);
});

test("signing in, other persons' pages and answers that are no pages are not kept", async () => {
  const worker = aWorker();
  worker.says.set("/a/", "<!doctype html><body class=\"outside\">a visitor's page");
  worker.says.set("/b/", new Response("{}", { headers: { "content-type": "application/json" } }));
  worker.says.set("/c/", new Response(page(7), { status: 404, headers: { "content-type": "text/html" } }));
  const redirected = new Response(page(7), { headers: { "content-type": "text/html" } });
  Object.defineProperty(redirected, "redirected", { value: true });
  redirected.clone = () => redirected;
  worker.says.set("/d/", redirected);
  for (const path of ["/a/", "/b/", "/c/", "/d/"]) await worker.ask(path);
  assert.deepEqual(worker.names(), []);
  for (const path of ["/sign-in/", "/admin/", "/inbox/", "/join/x/", "/password/new/", "/up/", "/worker.js"]) {
    assert.equal(await worker.ask(path), undefined, `${path} is left to the browser`);
  }
});

test("nothing but reading is touched; signing out makes it forget", async () => {
  const worker = aWorker();
  worker.says.set(TREE, page(7));
  worker.says.set("/outbox/", "shell");
  worker.says.set("/offline/", "shell");
  await worker.life("install");
  await worker.ask(TREE);
  assert.equal(await worker.ask("/inbox/", { method: "POST", mode: "cors" }), undefined);
  assert.equal(await worker.ask("/alderbrook/trees/", { method: "POST" }), undefined);
  assert.equal(worker.names().includes("pages-7"), true);
  assert.equal(await textOf(await worker.ask("/sign-out/", { method: "POST" })), "shell");
  assert.equal(worker.names().includes("pages-7"), true, "forgotten, though still signed in");
  worker.says.set("/sign-out/", "bye");
  assert.equal(await textOf(await worker.ask("/sign-out/", { method: "POST" })), "bye");
  assert.deepEqual(worker.names(), ["shells one", "static"]);
});

test("another host, and what is no page, picture or card, is left to the browser", async () => {
  const worker = aWorker();
  assert.equal(await worker.ask("https://elsewhere.example/"), undefined);
  assert.equal(await worker.ask("/alderbrook/board/", { mode: "cors" }), undefined);
});

test("when another person signs in, the pages of the one before are forgotten", async () => {
  const worker = aWorker();
  worker.says.set(TREE, page(7));
  await worker.ask(TREE);
  worker.all.set("guide-7", new FakeCache());
  worker.all.set("round-7", new FakeCache());
  worker.all.set("static", new FakeCache());
  worker.says.set(TREE, page(8));
  await worker.ask(TREE);
  assert.deepEqual(worker.names(), ["pages-8", "static"]);
});

test("a page that comes late for whoever was here before takes nothing with it", async () => {
  const worker = aWorker();
  let comes;
  worker.says.set(TREE, () => new Promise((resolve) => { comes = () => resolve(page(7)); }));
  const late = worker.ask(TREE);
  while (!comes) await new Promise(setImmediate);
  worker.says.set("/alderbrook/", page(8));
  await worker.ask("/alderbrook/");
  comes();
  await late;
  assert.deepEqual(worker.names(), ["pages-8"]);
  assert.deepEqual(worker.held("pages-8"), ["/alderbrook/"]);
});

test("a page that comes after signing out is not kept, and the next person's is", async () => {
  const worker = aWorker();
  let comes;
  worker.says.set(TREE, () => new Promise((resolve) => { comes = () => resolve(page(7)); }));
  const late = worker.ask(TREE);
  while (!comes) await new Promise(setImmediate);
  worker.says.set("/sign-out/", "bye");
  await worker.ask("/sign-out/", { method: "POST" });
  comes();
  await late;
  assert.deepEqual(worker.names(), []);
  worker.says.set(TREE, page(8));
  await worker.ask(TREE);
  assert.deepEqual(worker.names(), ["pages-8"]);
});

test("the last forty trees stay, each with its form, and their own room", async () => {
  const worker = aWorker();
  for (let n = 1; n <= 45; n += 1) {
    for (const path of [`/alderbrook/trees/A-${n}/`, `/alderbrook/trees/A-${n}/inspections/new/`]) {
      worker.says.set(path, page(7));
      await worker.ask(path);
    }
  }
  for (let n = 1; n <= 90; n += 1) {
    worker.says.set(`/alderbrook/guide/s${n}/`, page(7));
    await worker.ask(`/alderbrook/guide/s${n}/`);
  }
  const held = worker.held("pages-7");
  const trees = new Set(held.filter((path) => path.includes("/trees/")).map((path) => path.split("/")[3]));
  assert.equal(trees.size, 40);
  assert.equal(trees.has("A-5"), false);
  assert.equal(trees.has("A-6") && trees.has("A-45"), true);
  assert.equal(held.filter((path) => path.includes("/inspections/new/")).length, 40);
  assert.equal(held.filter((path) => path.includes("/guide/")).length, 80);
});

test("a form is found whatever follows its address, the exact one first", async () => {
  const worker = aWorker();
  const form = `${TREE}inspections/new/`;
  worker.says.set(form, page(7, "bare"));
  await worker.ask(form);
  worker.says.clear();
  assert.match(await textOf(await worker.ask(`${form}?mend=1`)), /bare/);
  worker.says.set(`${form}?round=3`, page(7, "of the round"));
  await worker.ask(`${form}?round=3`);
  worker.says.clear();
  assert.match(await textOf(await worker.ask(`${form}?round=3`)), /of the round/);
});

test("the form that closes a task is found whatever follows its address", async () => {
  const worker = aWorker();
  const form = "/alderbrook/tasks/12/closure/";
  worker.says.set(`${form}?back=board`, page(7, "how it was done"));
  await worker.ask(`${form}?back=board`);
  worker.says.clear();
  assert.match(await textOf(await worker.ask(`${form}?mend=1`)), /how it was done/);
});

test("of two copies the fresher one is shown", async () => {
  const worker = aWorker();
  worker.says.set(TREE, page(7, "opened at nine"));
  await worker.ask(TREE);
  const round = new FakeCache();
  const at = (time) => new Response(page(7, `taken along at ${time}`), { headers: { date: `Tue, 12 May 2026 ${time} GMT` } });
  await round.put(`${HOST}${TREE}`, at("10:00:00"));
  worker.all.set("round-7", round);
  worker.says.clear();
  assert.match(await textOf(await worker.ask(TREE)), /taken along/);
  await round.put(`${HOST}${TREE}`, at("08:00:00"));
  assert.match(await textOf(await worker.ask(TREE)), /opened at nine/);
});

test("where a tag and the front door lead is remembered", async () => {
  const worker = aWorker();
  const leading = () => {
    const away = new Response(null, { status: 200 });
    Object.defineProperty(away, "type", { value: "opaqueredirect" });
    away.clone = () => away;
    return away;
  };
  for (const path of ["/t/abc/", "/"]) {
    let first = true;
    worker.says.set(path, () => {
      if (first) { first = false; return leading(); }
      const came = new Response(page(7));
      Object.defineProperties(came, { redirected: { value: true }, url: { value: `${HOST}${TREE}` } });
      return came;
    });
    await worker.ask(path);
    worker.says.clear();
    const led = await worker.ask(path);
    assert.equal(led.status, 302);
    assert.equal(led.headers.get("location"), `${HOST}${TREE}`);
  }
});

test("a tag that was never scanned leads to its tree by the list of all tags", async () => {
  const worker = await withBlank();
  const list = worker.all.set("tags-7", new FakeCache()).get("tags-7");
  await list.put("/alderbrook/tags/codes/", new Response(JSON.stringify({ abc: "A-1", "d-_e": "B 2" })));
  await list.put("/southbank/tags/codes/", new Response(JSON.stringify({ xyz: "C-3" })));
  assert.equal(leadsTo(await worker.ask("/t/abc/")), TREE);
  assert.equal(leadsTo(await worker.ask("/t/d-_e/")), "/alderbrook/trees/B%202/");
  assert.equal(leadsTo(await worker.ask("/t/xyz/")), "/southbank/trees/C-3/");
  for (const token of ["abcd", "constructor"]) {
    assert.match(await textOf(await worker.ask(`/t/${token}/`)), /nothing kept/);
  }
  // With signal the server knows best; who signs out leaves no list behind.
  worker.says.set("/t/abc/", page(7, "the server's"));
  assert.match(await textOf(await worker.ask("/t/abc/")), /the server's/);
  await worker.message({ ask: "forget" }, { postMessage() {} });
  assert.equal(worker.names().includes("tags-7"), false);
});

test("another person's list of tags goes with their pages", async () => {
  const worker = aWorker();
  worker.all.set("tags-7", new FakeCache());
  worker.says.set(TREE, page(8));
  await worker.ask(TREE);
  assert.equal(worker.names().includes("tags-7"), false);
});

test("of a tree on several rounds the card that came last is shown", async () => {
  const worker = aWorker();
  const bring = async (round, text, time) => {
    const kept = worker.all.set(`round-${round}-7`, new FakeCache()).get(`round-${round}-7`);
    const list = { texts: [text], of: { "A-1": { sucker: 0 } } };
    const headers = { date: `Tue, 12 May 2026 ${time} GMT` };
    await kept.put(`/alderbrook/rounds/${round}/pages/?part=cards`, new Response(JSON.stringify(list), { headers }));
  };
  await bring(3, "at nine", "09:00:00");
  await bring(4, "at ten", "10:00:00");
  await bring(5, "at eight", "08:00:00");
  const card = await worker.ask("/alderbrook/trees/A-1/inspections/signs/sucker/", { mode: "cors" });
  assert.equal(await textOf(card), "at ten");
});

test("a round brings the cards of its trees, each text once", async () => {
  const worker = aWorker();
  const list = { texts: ["<p>cut low</p>", "<p>wait</p>"], of: { "A-1": { sucker: 0 }, "B 2": { sucker: 1 } } };
  const kept = await worker.all.set("round-7", new FakeCache()).get("round-7");
  await kept.put("/alderbrook/rounds/3/pages/", new Response("{}"));
  await kept.put("/alderbrook/rounds/3/pages/?part=cards", new Response(JSON.stringify(list)));
  const card = (tree, sign = "sucker", orchard = "alderbrook") => worker.ask(
    `/${orchard}/trees/${tree}/inspections/signs/${sign}/`,
    { mode: "cors" },
  );
  assert.equal(await textOf(await card("A-1")), "<p>cut low</p>");
  assert.equal(await textOf(await card("B%202")), "<p>wait</p>");
  await assert.rejects(card("A-1", "scale"), TypeError);
  await assert.rejects(card("A-9"), TypeError);
  await assert.rejects(card("A-1", "sucker", "southbank"), TypeError);
  // With signal the server's word counts.
  worker.says.set("/alderbrook/trees/A-1/inspections/signs/sucker/", "fresh");
  assert.equal(await textOf(await card("A-1")), "fresh");
});

test("pictures and cards come from the phone when there is no line", async () => {
  const worker = aWorker();
  worker.says.set(TREE, page(7));
  await worker.ask(TREE);
  const picture = "/alderbrook/photos/6f6c1a0e-0000-4000-8000-000000000001/small/";
  const card = `${TREE}inspections/signs/sucker/`;
  for (const path of [picture, card]) {
    worker.says.set(path, "bytes");
    assert.equal(await textOf(await worker.ask(path, { mode: "no-cors" })), "bytes");
    worker.says.delete(path);
    assert.equal(await textOf(await worker.ask(path, { mode: "no-cors" })), "bytes");
  }
  assert.deepEqual(worker.names(), ["cards-7", "pages-7", "pictures-7"]);
  await assert.rejects(worker.ask("/alderbrook/photos/x/small/", { mode: "no-cors" }), TypeError);
});

test("a page asks for pages to be kept, and for everything to be forgotten", async () => {
  const worker = aWorker();
  worker.says.set(TREE, page(7));
  await worker.message({ ask: "keep", urls: [`${HOST}${TREE}`, `${HOST}/dead/`] });
  assert.deepEqual(worker.held("pages-7"), [TREE]);
  let said;
  await worker.message({ ask: "forget" }, { postMessage: (word) => { said = word; } });
  assert.equal(said, "forgotten");
  assert.deepEqual(worker.names(), []);
  await worker.message({ ask: "something else" });
});

test("when there is signal again every open page is asked to send, and nobody else is", async () => {
  const worker = aWorker();
  const heard = [];
  const sync = () => worker.life("sync", { tag: "outbox" });
  await assert.rejects(sync(), /No page of the book is open/);
  worker.self.clients.pages = ["one", "two"].map((name) => ({ postMessage: ({ ask }) => heard.push([name, ask]) }));
  await sync();
  assert.deepEqual(heard, [["one", "send"], ["two", "send"]]);
  await worker.life("sync", { tag: "another" });
  assert.equal(heard.length, 2);
});

test("a new worker takes over when asked, but never under an open form", async () => {
  const worker = aWorker();
  const said = [];
  const port = { postMessage: (word) => said.push(word) };
  worker.self.navigator.locks.held = [{ name: "orchard-form-open" }];
  await worker.message({ ask: "take over" }, port);
  assert.equal(worker.self.skipped, 0);
  worker.self.navigator.locks.held = [{ name: "another" }];
  await worker.message({ ask: "take over" }, port);
  assert.equal(worker.self.skipped, 1);
  assert.deepEqual(said, ["form open", "taken over"]);
});

const BLANK = "/alderbrook/inspections/blank/";

async function withBlank() {
  const worker = aWorker();
  worker.says.set("/offline/", "nothing kept");
  worker.says.set(BLANK, page(7, "any tree"));
  await worker.ask(BLANK);
  worker.says.delete(BLANK);
  return worker;
}

const leadsTo = (came) => came.headers.get("location").slice(HOST.length);

test("a tree that is not kept has the form for any tree, with all that was asked for", async () => {
  const worker = await withBlank();
  const led = await worker.ask("/alderbrook/trees/B-2/?round=3");
  assert.equal(leadsTo(led), "/alderbrook/trees/B-2/inspections/new/?round=3");
  assert.match(await textOf(await worker.ask("/alderbrook/trees/B-2/inspections/new/?mend=x")), /any tree/);
});

test("a tree that is kept, a page that is none of a tree, and another orchard do not", async () => {
  const worker = await withBlank();
  worker.says.set(TREE, page(7, "its own"));
  await worker.ask(TREE);
  worker.says.delete(TREE);
  assert.match(await textOf(await worker.ask(TREE)), /its own/);
  for (const path of ["/alderbrook/trees/new/", "/alderbrook/trees/B-2/spot/", "/southbank/trees/B-2/"]) {
    assert.match(await textOf(await worker.ask(path)), /nothing kept/, path);
  }
});

test("a code that is typed leads to its tree, and other words do not", async () => {
  const worker = await withBlank();
  assert.equal(leadsTo(await worker.ask("/alderbrook/trees/?go=1&q=+b-2")), "/alderbrook/trees/B-2/");
  assert.equal(leadsTo(await worker.ask(`${BLANK}?tree=b-2`)), "/alderbrook/trees/B-2/");
  for (const path of ["/alderbrook/trees/?go=1&q=navel", "/alderbrook/trees/?q=B-2", "/southbank/trees/?go=1&q=B-2"]) {
    assert.match(await textOf(await worker.ask(path)), /nothing kept/, path);
  }
});

test("while the server answers, its word counts: also that there is no such tree", async () => {
  const worker = await withBlank();
  worker.says.set("/alderbrook/trees/Z-9/", new Response("none", { status: 404 }));
  assert.equal((await worker.ask("/alderbrook/trees/Z-9/")).status, 404);
  worker.says.set("/alderbrook/trees/B-2/inspections/new/", new Response("away", { status: 503 }));
  assert.match(await textOf(await worker.ask("/alderbrook/trees/B-2/inspections/new/")), /any tree/);
});

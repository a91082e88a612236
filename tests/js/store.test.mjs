// The store of the outbox on a played disk: what it keeps of an entry that comes again, and
// how it lets go when the phone is full.
import assert from "node:assert/strict";
import { test } from "node:test";
import { IDBFactory, IDBObjectStore } from "../quality/node_modules/fake-indexeddb/build/esm/index.js";
import { openOutbox } from "../../static/js/outbox/store.js";

const SEEN = "2026-05-12T09:00:00.000Z";
const look = (more = {}) => ({ key: "a", kind: "inspection", made_at: SEEN, fields: { tree: "A-1" }, ...more });
const anOutbox = () => openOutbox({ factory: new IDBFactory() });

test("a mended entry was seen when it was seen, not when it was mended", async () => {
  const store = anOutbox();
  await store.put([look()]);
  await store.mark("a", { state: "refused", reason: "no such tree" });
  await store.put([look({ made_at: "2026-05-13T20:00:00.000Z", fields: { tree: "A-2" } })]);
  const { made_at, fields, state, revision } = await store.get("a");
  assert.deepEqual([made_at, fields.tree, state, revision], [SEEN, "A-2", "waiting", 2]);
});

test("what is said of an older revision does not touch a mended entry", async () => {
  const store = anOutbox();
  await store.put([look()]);
  await store.put([look({ fields: { tree: "A-2" } })]);
  assert.equal(await store.mark("a", { state: "refused" }, 1), false);
  assert.equal((await store.get("a")).state, "waiting");
  assert.equal(await store.mark("a", { state: "refused" }, 2), true);
  assert.equal((await store.get("a")).state, "refused");
});

test("a phone without room for the news still lets a delivered entry go", async (context) => {
  const store = anOutbox();
  await store.put([look(), look({ key: "b" })]);
  assert.equal(await store.remove("b", 1, { at: SEEN, title: "b" }), true);
  assert.equal((await store.news()).length, 1);
  const { put } = IDBObjectStore.prototype;
  context.mock.method(IDBObjectStore.prototype, "put", function full(...what) {
    if (this.name === "news") throw new DOMException("full", "QuotaExceededError");
    return put.apply(this, what);
  });
  assert.equal(await store.remove("a", 1, { at: SEEN, title: "a" }), true);
  assert.deepEqual([await store.list(), (await store.news()).length], [[], 1]);
});

// The clock stands still but for what a test lets pass, so that a busy machine is no slow store.
function aClock({ mock: { timers } }) {
  timers.enable({ apis: ["setTimeout"] });
  // Let it run until a piece of work is over, and the store have its turn at each step.
  return async function passing(work) {
    let isOver = false;
    const end = work.finally(() => { isOver = true; });
    while (!isOver) {
      await new Promise(setImmediate);
      timers.tick(100);
    }
    return end;
  };
}

// A store on a played disk that another page holds until it is released.
async function aHeldOutbox() {
  const factory = new IDBFactory();
  const store = openOutbox({ factory });
  await store.put([look()]);
  const base = await new Promise((resolve) => {
    factory.open("orchard-outbox").onsuccess = ({ target }) => resolve(target.result);
  });
  const other = base.transaction(["entries", "bytes"], "readwrite");
  let free = false;
  const hold = () => { if (!free) other.objectStore("entries").count().onsuccess = hold; };
  hold();
  const released = () => new Promise((resolve) => { free = true; other.oncomplete = resolve; });
  return { store, released };
}

test("a store that another page holds for ever is given up, and nothing is kept late", async (context) => {
  const passing = aClock(context);
  const { store, released } = await aHeldOutbox();
  await passing(assert.rejects(store.put([look({ key: "b" })]), { name: "StoreFailed", late: true, full: false }));
  await passing(assert.rejects(store.list(), { late: true }));
  await released();
  assert.deepEqual((await store.list()).map(({ key }) => key), ["a"]);
  await store.put([look({ key: "b" })]);
  assert.deepEqual((await store.list()).map(({ key }) => key), ["a", "b"]);
});

test("a write that is given up with another is late too: nobody knows what became of it", async (context) => {
  const passing = aClock(context);
  const { store, released } = await aHeldOutbox();
  const first = store.put([look({ key: "b" })]);
  const second = store.mark("a", { tries: 4 });
  await passing(Promise.all([first, second].map((write) => assert.rejects(write, { late: true }))));
  await released();
});

test("what was delivered before is not kept once more, and its news is told", async () => {
  const store = anOutbox();
  await store.put([look()], { once: "a" });
  await store.remove("a", 1, { at: SEEN, title: "a", url: "/x/" });
  const gone = await store.put([look({ fields: { tree: "A-2" } })], { once: "a" });
  assert.equal(gone.url, "/x/");
  assert.deepEqual(await store.list(), []);
  assert.equal(await store.put([look({ key: "b" })], { once: "b" }), null);
  assert.equal((await store.list()).length, 1);
});

test("what another page has saved since is not written over", async () => {
  const store = anOutbox();
  assert.equal(await store.put([look()], { once: "a", revision: 0 }), null);
  assert.equal(await store.put([look({ fields: { tree: "A-2" } })], { once: "a", revision: 1 }), null);
  const before = await store.put([look({ fields: { tree: "A-3" } })], { once: "a", revision: 1 });
  assert.deepEqual([before.state, before.revision, before.fields.tree], ["waiting", 2, "A-2"]);
  assert.equal((await store.get("a")).fields.tree, "A-2");
  // One that was taken back counts on.
  await store.remove("a", 2);
  assert.equal(await store.put([look()], { once: "a", revision: 2 }), null);
  assert.equal((await store.get("a")).revision, 3);
});

test("a store that never opens is given up as well", async (context) => {
  const passing = aClock(context);
  const store = openOutbox({ factory: { open: () => ({}) } });
  await passing(assert.rejects(store.put([look()]), { name: "StoreFailed", late: true }));
});

test("a page that goes away holds nothing, and opens the store anew when it comes back", async (context) => {
  aClock(context);
  const { store, released } = await aHeldOutbox();
  const put = store.put([look({ key: "b" })]);
  for (let turn = 0; turn < 5; turn += 1) await new Promise(setImmediate);
  store.close();
  await assert.rejects(put, { name: "StoreFailed", late: true, full: false });
  await released();
  assert.deepEqual((await store.list()).map(({ key }) => key), ["a"]);
});

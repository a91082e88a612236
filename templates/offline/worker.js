// The service worker: it only reads. Pages come from the network, and from this phone
// when the network is dead or slow; what was recorded is sent by the pages, never by it.
"use strict";

const { version, files, shells, drawings } = {{ settings|safe }};
const SLOW = 3000;
const MOST_TREES = 40;
const MOST_PAGES = 80;
const MOST_PICTURES = 200;
const MOST_OLD_FILES = 200;
const STATIC = "static";
const SHELLS = `shells ${version}`;
const OFFLINE = "/offline/";
const OUTBOX = "/outbox/";
const HASHED = /\.[0-9a-f]{12}\.\w+$/;
const PERSON = /<body[^>]*\sdata-person="(\d+)"/;
// What is never kept: it is for signing in, for machines, or larger than a page.
const NEVER = /^\/(admin|inbox|sign-in|sign-out|join|password|up|worker\.js)(\/|$)/;
const TREE = /^\/([^/]+)\/trees\/([^/]+)\//;
// A form is the same whatever was asked for in its address.
const FORM = /^\/[^/]+\/(tasks|second-looks)\/\d+\//;
// With a question such a form is filled for one tree or group: only the plain one serves all.
const PLAIN = /^\/[^/]+\/(events|stages|waterings|ripeness-tests)\/$/;
// Where a tree is asked for: its page, its form, by its code typed, or by the form for any.
const ITS_PAGE = /^\/([^/]+)\/trees\/(?!new\/)([^/]+)\/(inspections\/new\/)?$/;
const CODE = /^\S*\d\S*$/;
const TYPED = /^\/([^/]+)\/(trees|inspections\/blank)\/$/;
const TAG = /^\/t\/([^/]+)\/$/;
const TAGS = /^\/([^/]+)\/tags\/codes\/$/;
const PICTURE = /^\/[^/]+\/photos\/[^/]+\/(small|middle)\/$/;
const CARD = /^\/([^/]+)\/trees\/([^/]+)\/inspections\/signs\/([^/]+)\/$/;
const CARDS = /^\/([^/]+)\/rounds\/\d+\/pages\/\?part=cards$/;
let unpacked = null;
// Pages are asked for one after the other, and come in any order: only the one that was
// asked for last says who holds this phone.
let asked = 0;
let holder = { person: null, since: 0 };

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));
self.addEventListener("fetch", answer);
self.addEventListener("sync", (event) => {
  if (event.tag === "outbox") event.waitUntil(askToSend());
});
self.addEventListener("message", (event) => {
  const { data, ports } = event;
  if (data?.ask === "keep") event.waitUntil(keepAll(data.urls));
  if (data?.ask === "take over") event.waitUntil(takeOver(ports[0]));
  if (data?.ask === "forget") event.waitUntil(forget().then(() => ports[0]?.postMessage("forgotten")));
});

// Hashed files never change: what an earlier worker brought is not brought again.
async function install() {
  const kept = await caches.open(STATIC);
  const missing = [];
  for (const url of files) {
    if (!HASHED.test(url) || !await kept.match(url)) missing.push(url);
  }
  await kept.addAll(missing);
  const fresh = await caches.open(SHELLS);
  // Without cookies: a shell is the same for everybody and holds nobody's notices.
  await fresh.addAll(shells.map((url) => new Request(url, { credentials: "omit" })));
}

async function activate() {
  for (const name of await caches.keys()) {
    if (name.startsWith("shells ") && name !== SHELLS) await caches.delete(name);
  }
  const kept = await caches.open(STATIC);
  const wanted = new Set(files);
  const old = (await kept.keys()).filter(({ url }) => !wanted.has(new URL(url).pathname));
  // A page that is kept may still ask for the file it was made with.
  const spare = new Set(old.filter(({ url }) => HASHED.test(url)).slice(-MOST_OLD_FILES));
  for (const request of old) {
    if (!spare.has(request)) await kept.delete(request);
  }
  await self.clients.claim();
}

// The browser says that there is signal again. A page of the book that is open, on the
// screen or behind it, sends; where none is, it fails, and the browser asks again later.
async function askToSend() {
  const pages = await self.clients.matchAll({ type: "window" });
  if (!pages.length) throw new Error("No page of the book is open.");
  for (const page of pages) page.postMessage({ ask: "send" });
}

// A form that is open and not saved holds a lock: then nothing changes under it.
async function takeOver(port) {
  const { held } = self.navigator?.locks ? await self.navigator.locks.query() : { held: [] };
  if (held.some((lock) => lock.name === "orchard-form-open")) {
    port.postMessage("form open");
    return;
  }
  await self.skipWaiting();
  port.postMessage("taken over");
}

function answer(event) {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method !== "GET") {
    if (url.pathname === "/sign-out/") event.respondWith(leave(request));
    return;
  }
  if (url.pathname.startsWith("/static/")) event.respondWith(fileOf(request));
  else if (NEVER.test(url.pathname)) return;
  else if (request.mode === "navigate") event.respondWith(pageOf(event, url));
  else if (PICTURE.test(url.pathname)) event.respondWith(partOf(event, "pictures"));
  else if (CARD.test(url.pathname)) event.respondWith(partOf(event, "cards"));
}

// Who could not be signed out keeps what was kept: the shed may be far away.
async function leave(request) {
  try {
    const came = await fetch(request);
    await forget();
    return came;
  } catch {
    return await shellOf(new URL(OFFLINE, self.location)) ?? Response.error();
  }
}

async function fileOf(request) {
  const kept = await caches.open(STATIC);
  const found = await kept.match(request, { ignoreVary: true }) ?? await drawingOf(request, kept);
  if (found && HASHED.test(new URL(request.url).pathname)) return found;
  try {
    const came = await fetch(request);
    if (came.ok) await kept.put(request, came.clone()).catch(() => {});
    return came;
  } catch (fault) {
    if (found) return found;
    throw fault;
  }
}

// All drawings lie in one file: a hundred small ones take a phone seconds.
async function drawingOf(request, kept) {
  const name = drawings.names[new URL(request.url).pathname];
  if (!name) return null;
  unpacked ??= kept.match(drawings.pack).then((pack) => pack.json()).catch(() => ({}));
  const text = (await unpacked)[name];
  return text ? new Response(text, { headers: { "content-type": "image/svg+xml" } }) : null;
}

async function pageOf(event, url) {
  if (url.pathname === OUTBOX || url.pathname === OFFLINE) return shellOf(url);
  const copies = [];
  const turn = ++asked;
  const network = fetch(event.request).then((came) => {
    if (came.status === 200 || came.type === "opaqueredirect") copies.push(came.clone());
    return came;
  });
  event.waitUntil(network.then(() => (
    copies[0]?.type === "opaqueredirect" ? keepWay(url) : copies[0] && keep(url.href, copies[0], turn)
  )).catch(() => {}));
  const first = await firstOf(network, SLOW);
  if (first && !isDown(first)) return first;
  const kept = await find(url);
  if (kept) return kept;
  const came = await network.catch(() => null);
  if (came && !isDown(came)) return came;
  return await treeTyped(url) ?? await treeOfTag(url) ?? await blankFor(url) ?? came
    ?? await shellOf(new URL(OFFLINE, self.location)) ?? Response.error();
}

const blankOf = (orchard) => find(new URL(`/${orchard}/inspections/blank/`, self.location));

// A tree's code that was typed leads to the tree. Other words are for the server.
async function treeTyped({ pathname, searchParams, origin }) {
  const [, orchard, where] = TYPED.exec(pathname) ?? [];
  if (!orchard || (where === "trees" && !searchParams.has("go"))) return null;
  const code = (searchParams.get(where === "trees" ? "q" : "tree") ?? "").trim().toUpperCase();
  if (!CODE.test(code) || !await blankOf(orchard)) return null;
  return Response.redirect(`${origin}/${orchard}/trees/${encodeURIComponent(code)}/`, 302);
}

// A tag that was scanned leads to its tree, by the lists that were brought of all tags.
async function treeOfTag({ pathname, origin }) {
  const [, token] = TAG.exec(pathname) ?? [];
  for (const name of token ? await ownCaches("tags") : []) {
    const kept = await caches.open(name);
    for (const request of await kept.keys()) {
      const [, orchard] = TAGS.exec(new URL(request.url).pathname) ?? [];
      const codes = new Map(Object.entries(await (await kept.match(request, { ignoreVary: true })).json()));
      const code = codes.get(token);
      if (orchard && code) return Response.redirect(`${origin}/${orchard}/trees/${encodeURIComponent(code)}/`, 302);
    }
  }
  return null;
}

// A tree that is not kept has the form for any tree in place of its own; its page leads there.
async function blankFor({ pathname, search, origin }) {
  const [, orchard, code, form] = ITS_PAGE.exec(pathname) ?? [];
  const blank = orchard && await blankOf(orchard);
  if (!blank) return null;
  return form ? blank : Response.redirect(`${origin}/${orchard}/trees/${code}/inspections/new/${search}`, 302);
}

// The server itself is away, whoever answers in its place.
const isDown = (came) => [502, 503, 504].includes(came.status);

// What came within the time, or null when nothing did.
function firstOf(network, patience) {
  return new Promise((resolve) => {
    const timer = setTimeout(() => resolve(null), patience);
    network.then(
      (came) => { clearTimeout(timer); resolve(came); },
      () => { clearTimeout(timer); resolve(null); },
    );
  });
}

async function shellOf(url) {
  const kept = await caches.open(SHELLS);
  return await kept.match(url.pathname, { ignoreVary: true }) ?? fetch(url.pathname);
}

// Pictures and cards: what came last, when nothing comes now.
async function partOf(event, what) {
  const { request } = event;
  const name = (await ownCaches("pages"))[0]?.replace("pages", what);
  const network = fetch(request);
  const copied = network.then((came) => (came.ok && !came.redirected && name ? came.clone() : null));
  event.waitUntil(copied.then(async (copy) => {
    const still = (await ownCaches("pages"))[0]?.replace("pages", what);
    if (copy && still === name) await put(name, request.url, copy, MOST_PICTURES);
  }).catch(() => {}));
  const first = await firstOf(network, SLOW);
  if (first?.ok) return first;
  const kept = name && await (await caches.open(name)).match(request, { ignoreVary: true });
  return kept || await cardOf(new URL(request.url)) || network;
}

// A round brings the cards of all its trees in one list: what is alike stands there once.
async function cardOf({ pathname }) {
  const [, orchard, tree, sign] = (CARD.exec(pathname) ?? []).map(decodeURIComponent);
  const lists = [];
  for (const name of sign ? await ownCaches("round") : []) {
    const kept = await caches.open(name);
    for (const request of await kept.keys()) {
      const { pathname: path, search } = new URL(request.url);
      if (CARDS.exec(path + search)?.[1] === orchard) lists.push(await kept.match(request, { ignoreVary: true }));
    }
  }
  for (const list of lists.sort((one, other) => ageOf(other) - ageOf(one))) {
    const { texts, of } = await list.json();
    const text = texts[of[tree]?.[sign]];
    if (text) return new Response(text, { headers: { "content-type": "text/html; charset=utf-8" } });
  }
  return null;
}

const ageOf = (answer) => Date.parse(answer.headers.get("date") ?? 0) || 0;

// Whether a page made for this person, asked for at that turn, is for who holds the phone.
function isFor(person, turn) {
  if (!person || (person !== holder.person && turn < holder.since)) return false;
  holder = { person, since: Math.max(turn, holder.since) };
  return true;
}

// Keep a page for the person it was made for; another's are forgotten.
async function keep(url, copy, turn) {
  if (copy.redirected || !copy.headers.get("content-type")?.startsWith("text/html")) return;
  const person = PERSON.exec(await copy.clone().text())?.[1];
  if (!isFor(person, turn)) return;
  for (const name of await caches.keys()) {
    if (/^(pages|pictures|cards|guide|round|tags)-/.test(name) && !name.endsWith(`-${person}`)) {
      await caches.delete(name);
    }
  }
  await put(`pages-${person}`, url, copy, MOST_PAGES);
}

async function keepAll(urls) {
  for (const url of urls) {
    const turn = ++asked;
    const came = await fetch(url, { credentials: "same-origin" }).catch(() => null);
    if (came?.status === 200) await keep(url, came, turn);
  }
}

// A tag leads on to its tree, and the front door to the orchard: remember where to.
async function keepWay(url) {
  if (url.pathname !== "/" && !url.pathname.startsWith("/t/")) return;
  const turn = ++asked;
  const came = await fetch(url.pathname, { credentials: "same-origin" });
  if (!came.ok || !came.redirected) return;
  const person = PERSON.exec(await came.text())?.[1];
  if (isFor(person, turn)) await put(`pages-${person}`, url.href, Response.redirect(came.url, 302), MOST_PAGES);
}

// The newest stands last. Trees have room of their own: the last forty that were opened.
async function put(name, url, copy, most) {
  const kept = await caches.open(name);
  await kept.delete(url, { ignoreVary: true });
  await kept.put(url, copy);
  const trees = new Set();
  let others = 0;
  for (const request of (await kept.keys()).reverse()) {
    const tree = TREE.exec(new URL(request.url).pathname);
    if (tree) trees.add(`${tree[1]}/${tree[2]}`);
    else others += 1;
    if (tree ? trees.size > MOST_TREES : others > most) await kept.delete(request);
  }
}

const ownCaches = async (...kinds) => (await caches.keys())
  .filter((name) => kinds.some((kind) => name.startsWith(`${kind}-`)));

// The freshest copy of a page. Pages of a tree and forms are found whatever follows their
// address.
async function find(url) {
  const found = [];
  for (const name of await ownCaches("pages", "round", "guide")) {
    const kept = await caches.open(name);
    const exact = await kept.match(url.href, { ignoreVary: true });
    const near = exact ?? (TREE.test(url.pathname) || FORM.test(url.pathname)
      ? await kept.match(url.href, { ignoreVary: true, ignoreSearch: true })
      : PLAIN.test(url.pathname) ? await kept.match(url.origin + url.pathname, { ignoreVary: true }) : null);
    if (near) found.push({ near, exact: Boolean(exact) });
  }
  found.sort((one, other) => other.exact - one.exact || ageOf(other.near) - ageOf(one.near));
  return found[0]?.near ?? null;
}

async function forget() {
  holder = { person: null, since: ++asked };
  for (const name of await ownCaches("pages", "pictures", "cards", "guide", "round", "tags")) {
    await caches.delete(name);
  }
}

// Taking a round along: all of its pages are kept on this phone, each round by itself.
import { keepOne, keepTags } from "./outbox/kept.js";

// As many at once as a browser opens lines to one server.
const AT_ONCE = 6;
// So many rounds are on a phone at once; of another the oldest makes room.
const MOST_ROUNDS = 6;
const STATE = /^\/[^/]+\/rounds\/(\d+)\/pages\/$/;
// These the worker brought when it came.
const SHELLS = new Set(["/outbox/", "/offline/"]);

// Keep everything on the list: { kept, missing }. Tells after each how far it is.
export async function takeAlong(list, { page, picture, cards, work, tags, step = () => {} }) {
  const jobs = [
    // The server thinks longest about these: meanwhile the pages come.
    ...(list.cards ? [() => cards(list.cards)] : []),
    ...(list.work ? [() => work(list.work)] : []),
    ...(list.tags ? [() => tags(list.tags)] : []),
    ...list.pages.map((url) => () => page(url)),
    ...(list.pictures ?? []).map((url) => () => picture(url)),
  ];
  let next = 0;
  let kept = 0;
  let missing = 0;
  async function hand() {
    while (next < jobs.length) {
      const job = jobs[next];
      next += 1;
      const came = await job().catch(() => null);
      if (came === null) missing += 1;
      else kept += 1;
      step(kept + missing, jobs.length);
    }
  }
  await Promise.all(Array.from({ length: AT_ONCE }, hand));
  return { kept, missing };
}

async function keepPicture(cache, url) {
  const answer = await fetch(url, { credentials: "same-origin" });
  if (!answer.ok) return null;
  await cache.put(url, answer);
  return url;
}

// An address that leads on (a tag) is kept as the way to where it leads.
async function keepPage(cache, url, person) {
  if (SHELLS.has(url)) return url;
  const answer = await fetch(url, { credentials: "same-origin" });
  if (answer.redirected) {
    const text = await answer.text();
    if (!answer.ok || !text.includes(`data-person="${person}"`)) return null;
    await cache.put(url, Response.redirect(answer.url, 302));
    return url;
  }
  return keepOne(cache, url, person, answer);
}

// The pages of the work of a round and of its closing come in one: they are nearly alike.
async function keepWork(cache, url, person) {
  const answer = await fetch(url, { credentials: "same-origin" });
  if (!answer.ok || answer.redirected) return null;
  const headers = { "content-type": "text/html; charset=utf-8", date: answer.headers.get("date") ?? new Date().toUTCString() };
  for (const [address, text] of Object.entries(await answer.json())) {
    if (!text.includes(`data-person="${person}"`)) return null;
    await cache.put(address, new Response(text, { headers }));
  }
  return url;
}

// Each round lies by itself, so that taking another one along takes nothing from it.
const nameOf = (address, person) => `round-${STATE.exec(address)[1]}-${person}`;

// What is on this phone of rounds, the newest first: { name, round, at, kept, missing }.
export async function keptRounds() {
  const found = [];
  for (const name of (await caches.keys()).filter((one) => one.startsWith("round-"))) {
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const { pathname, search } = new URL(request.url);
      if (search || !STATE.test(pathname)) continue;
      found.push({ name, ...await (await cache.match(request, { ignoreVary: true })).json() });
    }
  }
  return found.sort((one, other) => (one.at < other.at ? 1 : -1));
}

async function makeRoom(address) {
  const others = (await keptRounds()).filter(({ round }) => round !== address);
  for (const { name } of others.slice(MOST_ROUNDS - 1)) await caches.delete(name);
}

// Take a round along from the address of its list: { kept, missing, at, round }.
export async function takeRound(address, { person, step }) {
  const answer = await fetch(address, { credentials: "same-origin" });
  if (!answer.ok || answer.redirected) throw new TypeError(String(answer.status));
  const list = await answer.json();
  await makeRoom(address);
  const cache = await caches.open(nameOf(address, person));
  const pictures = await caches.open("static");
  const { kept, missing } = await takeAlong(list, {
    page: (url) => keepPage(cache, url, person),
    picture: (url) => keepPicture(url.startsWith("/static/") ? pictures : cache, url),
    cards: (url) => keepPicture(cache, url),
    work: (url) => keepWork(cache, url, person),
    tags: (url) => keepTags(url, person),
    step,
  });
  const state = { kept, missing, at: new Date().toISOString(), round: address };
  await cache.put(address, new Response(JSON.stringify(state)));
  return state;
}

export async function removeRound(address) {
  for (const { name, round } of await keptRounds()) if (round === address) await caches.delete(name);
}

// The page of the outbox: every entry with what holds it up and the way on.
import { gettext, ngettext } from "../words.js";
import { make, sized, told } from "../dom.js";
import { changed, news, sender, store } from "./start.js";
import { NoEntries, read, written } from "./files.js";
import { stateOf } from "./states.js";

const at = (name) => document.querySelector(`[data-${name}]`);
let greeting;
let end = "";
let sending = null;
// What somebody has open to change, on another page.
const open = new Set();

function entryRow(entry, all) {
  const look = entry.kind === "inspection";
  const state = stateOf(entry, { entries: all, person: greeting?.person, outcome: end, busy: sending, open });
  const own = greeting?.person == null || greeting.person === entry.person;
  const facts = [
    gettext("by %(name)s", { name: entry.person_name }),
    entry.size ? sized(entry.size) : "",
    entry.tries ? ngettext("tried %(number)s time", "tried %(number)s times", entry.tries) : "",
  ].filter(Boolean).join(", ");
  const deeds = make("div", { class: "entry-do" });
  const mine = own && sending !== entry.key;
  if (mine && cameBefore(entry)) deeds.append(...whereItIs(entry));
  else if (mine) {
    if (entry.state === "refused") deeds.append(...again(entry));
    else if (isLeftBehind(entry, all)) deeds.append(...alone(entry));
    deeds.append(...(look ? mending(entry) : change(entry)));
  }
  deeds.append(button(gettext("Save as a file"), () => save([entry])));
  if (entry.saved_at) deeds.append(removal(entry));
  else if (mine) deeds.append(takingBack(entry, all));
  return make(
    "li",
    { class: "entry", "data-entry": entry.key, "data-entry-state": entry.state },
    make("p", { class: "entry-code" }, codeOf(entry)),
    make(
      "p",
      { class: "entry-what" },
      entry.state === "refused" ? make("b", {}, state) : state,
      make("small", {}, `${entry.title}. ${facts}`),
    ),
    make("p", { class: "entry-when" }, told(entry.made_at)),
    deeds,
  );
}

function codeOf({ kind, fields }) {
  if (kind === "photo") return gettext("Photo");
  return fields.tree ?? gettext("Work");
}

function button(words, act, kind = "") {
  return make("button", { class: `button ${kind}`.trim(), type: "button", click: act }, words);
}

function formOf(entry, tree) {
  return `/${entry.orchard}/trees/${encodeURIComponent(tree)}/inspections/new/?mend=${entry.key}`;
}

// On the page it was written on, where that has a form.
function change(entry) {
  if (!entry.page || entry.kind === "taking") return [];
  const glue = entry.page.includes("?") ? "&" : "?";
  return [make("a", { class: "button", href: `${entry.page}${glue}mend=${entry.key}` }, gettext("Open and change"))];
}

// What came in before it was changed here is corrected where it is.
const cameBefore = (entry) => entry.state === "refused" && Boolean(entry.url);
const whereItIs = ({ kind, url }) => [kind === "inspection"
  ? make("a", { class: "button", href: `${url}correction/` }, gettext("Correct what was saved"))
  : make("a", { class: "button", href: url }, gettext("Read what was saved"))];

// On the form of its tree, or, refused, of the tree it was meant for.
function mending(entry) {
  const refused = entry.state === "refused";
  const words = refused ? gettext("Correct") : gettext("Open and change");
  const link = make("a", { class: "button", href: formOf(entry, entry.fields.tree) }, words);
  if (!refused) return [link];
  const code = make("input", {
    id: `tree-${entry.key}`, class: "input", autocapitalize: "characters", autocomplete: "off", maxlength: 20,
  });
  return [
    link,
    make(
      "form",
      {
        class: "another",
        submit: (sent) => {
          sent.preventDefault();
          if (code.value.trim()) location.assign(formOf(entry, code.value.trim()));
        },
      },
      make("label", { for: code.id }, gettext("It was another tree:")),
      make("div", { class: "with-button" }, code, make("button", { class: "button" }, gettext("Open its form"))),
    ),
  ];
}

async function retry(entry, fields) {
  await store.put([{ ...entry, fields }], { once: entry.key });
  changed();
  sender.nudge();
}

function again(entry) {
  return [button(gettext("Send again"), () => retry(entry, entry.fields)), ...alone(entry)];
}

// A photo whose record will not come may go by itself.
function alone(entry) {
  if (entry.kind !== "photo" || !entry.fields.inspection) return [];
  const fields = { ...entry.fields, inspection: "", finding_sign: "" };
  return [button(gettext("Send it without its record"), () => retry(entry, fields))];
}

const isLeftBehind = (entry, all) => entry.kind === "photo" && entry.tries > 0
  && !all.some((one) => one.key === entry.fields.inspection);

// Gone for good only after it was saved as a file, and only when asked twice.
function removal(entry) {
  const fold = make("details", { class: "removal" });
  fold.append(
    make("summary", { class: "button plain" }, gettext("Remove")),
    make("p", {}, gettext("It is in the file you saved at %(time)s, and then nowhere else.", { time: told(entry.saved_at) })),
    button(gettext("Yes, remove it from this phone"), async () => {
      await store.remove(entry.key, entry.revision);
      changed();
    }, "danger"),
  );
  return fold;
}

// The look that waits, and of which this photo is all there is.
function lookOfNothingElse({ key, kind, fields }, all) {
  if (kind !== "photo" || all.some((one) => one.key !== key && one.fields.inspection === fields.inspection)) return null;
  return all.find((one) => one.key === fields.inspection && one.fields.photos_follow) ?? null;
}

// What has not arrived may be taken back, a record with its photos; asked twice.
function takingBack(entry, all) {
  const photos = all.filter((one) => one.kind === "photo" && one.fields.inspection === entry.key);
  const look = lookOfNothingElse(entry, all);
  const fold = make("details", { class: "removal" });
  fold.append(
    make("summary", { class: "button plain" }, gettext("Withdraw")),
    make("p", {}, photos.length
      ? ngettext("It and %(number)s photo are on this phone only, and then nowhere.", "It and %(number)s photos are on this phone only, and then nowhere.", photos.length)
      : gettext("It is on this phone only, and then nowhere.")),
    look ? make("p", {}, gettext("The look at %(tree)s has nothing else: it is withdrawn too.", look.fields)) : "",
    entry.tries ? make("p", {}, gettext("It was tried before and may have arrived all the same: look once there is signal.")) : "",
    button(gettext("Yes, withdraw"), async () => {
      for (const one of [look, ...photos, entry].filter(Boolean)) await store.remove(one.key, one.revision);
      changed();
    }, "danger"),
  );
  return fold;
}

async function save(entries) {
  const pairs = [];
  for (const entry of entries) pairs.push([entry, await store.bytesOf(entry.key)]);
  const moment = new Date().toISOString();
  const blob = new Blob([written(pairs, moment)], { type: "application/json" });
  const name = `orchard-${entries[0].fields.tree ?? "photo"}-${moment.slice(0, 16).replace(/[:T]/g, "-")}.json`;
  const link = make("a", { href: URL.createObjectURL(blob), download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  for (const entry of entries) await store.mark(entry.key, { saved_at: moment });
  changed();
}

async function takeIn(file) {
  const said = at("taken");
  try {
    const held = new Set((await store.list()).map((entry) => entry.key));
    const entries = read(await file.text());
    const fresh = entries.filter((entry) => !held.has(entry.key));
    await store.put(fresh);
    said.textContent = fresh.length
      ? ngettext("%(number)s entry waits here again.", "%(number)s entries wait here again.", fresh.length)
      : gettext("All of it stands here already.");
    changed();
    sender.nudge();
  } catch (fault) {
    said.textContent = fault instanceof NoEntries
      ? gettext("That isn't a file of entries, or it is damaged. Nothing was imported.")
      : gettext("This phone has no room left for it. Nothing was imported.");
  }
}

function newsRow(one) {
  return make(
    "li",
    { class: "entry" },
    make("p", { class: "entry-what" }, make("a", { href: one.url }, one.title), make("small", {}, one.notices.join(" "))),
    make("p", { class: "entry-when" }, told(one.at)),
  );
}

async function show() {
  let all;
  try {
    all = await store.list();
  } catch (fault) {
    at("state").textContent = fault.late
      ? gettext("This phone's store does not answer. Nothing in it is lost. Reload the page in a moment.")
      : gettext("This browser doesn't let the app store records. A private window never does. Forms are sent at once and need signal.");
    at("outbox-page").hidden = false;
    return;
  }
  showRows(all);
  at("empty").hidden = all.length > 0;
  at("entries").hidden = !all.length;
  at("send").hidden = !all.some((entry) => entry.state === "waiting");
  at("sign-in").hidden = end !== "signed out";
  at("state").textContent = [
    greeting?.person ? gettext("Signed in here: %(name)s.", { name: greeting.person_name }) : "",
    all.some((entry) => entry.state === "waiting") ? whenSent() : "",
  ].filter(Boolean).join(" ");
  const mine = (await store.news()).filter((one) => greeting?.person == null || one.person === greeting.person);
  at("arrived").hidden = !mine.length;
  at("arrived").querySelector("ul").replaceChildren(...mine.slice(0, 20).map(newsRow));
  const orchard = all.at(-1)?.orchard ?? mine[0]?.orchard;
  if (orchard) at("home").href = `/${orchard}/`;
  await showPhone(all);
  at("outbox-page").hidden = false;
}

// When it goes, said as it is: nothing is sent for a book that is closed.
function whenSent() {
  return "SyncManager" in globalThis
    ? gettext("It is sent while the app is open, even behind other pages. Don't close it.")
    : gettext("It is sent while the app is open on the screen. Come back to it where there is signal.");
}

// How far a photo has come, on its own row.
function showShare({ entry, share }) {
  const row = document.querySelector(`[data-entry="${entry.key}"]`);
  if (!row) return;
  const bar = row.querySelector("progress")
    ?? make("progress", { max: 1, "aria-label": gettext("Photo on its way") });
  bar.value = share;
  if (!bar.isConnected) row.querySelector(".entry-what").append(bar);
}

// Whoever is at a button stays there, what is open stays open, and typing is not disturbed.
function showRows(all) {
  const list = at("entries");
  const focus = list.contains(document.activeElement) ? document.activeElement : null;
  if (focus?.matches("input")) return;
  const key = focus?.closest("[data-entry]").dataset.entry;
  const open = new Set([...list.querySelectorAll("details[open]")]
    .map((fold) => fold.closest("[data-entry]").dataset.entry));
  list.replaceChildren(...all.map((entry) => entryRow(entry, all)));
  for (const row of list.children) {
    if (open.has(row.dataset.entry)) row.querySelector("details")?.setAttribute("open", "");
    if (row.dataset.entry === key) {
      [...row.querySelectorAll("button, a, summary")]
        .find((one) => one.textContent === focus.textContent)?.focus();
    }
  }
}

async function showPhone(all) {
  const granted = await navigator.storage?.persisted?.().catch(() => false);
  const { quota, usage } = await navigator.storage?.estimate?.().catch(() => ({})) ?? {};
  const used = all.reduce((sum, entry) => sum + entry.size, 0);
  const rows = [
    [gettext("Kept for good"), granted
      ? gettext("yes: the phone will not clear it by itself")
      : gettext("not certain: send soon, and add the app to the home screen")],
    [gettext("Photos waiting"), sized(used)],
    ...(quota ? [[gettext("Room left"), gettext("about %(size)s", { size: sized(quota - usage) })]] : []),
  ];
  at("phone").replaceChildren(...rows.flatMap(([name, value]) => [make("dt", {}, name), make("dd", {}, value)]));
  at("persist").hidden = granted || !navigator.storage?.persist;
}

function tend() {
  news.addEventListener("step", ({ detail }) => {
    if (detail.greeting) greeting = detail.greeting;
    if (detail.step === "greeted") open.clear();
    if (detail.step === "open") open.add(detail.entry.key);
    if (detail.step === "ended") end = detail.end;
    sending = detail.step === "sending" || detail.step === "moved" ? detail.entry.key : null;
    if (detail.step === "moved") showShare(detail);
    else show();
  });
  at("send").addEventListener("click", () => sender.nudge());
  at("persist").addEventListener("click", async () => {
    await navigator.storage.persist();
    show();
  });
  at("take-in").addEventListener("change", (chosen) => {
    const [file] = chosen.target.files;
    if (file) takeIn(file);
    chosen.target.value = "";
  });
  show();
}

tend();

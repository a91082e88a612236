// From a form to the entries of the outbox: the record, and one for each of its photos.
import { ngettext, gettext } from "../words.js";
import { made, MOST_BYTES, takenAt } from "./photo.js";

const VERDICTS = { a: "act", w: "watch", l: "leave", r: "report" };
// The entry itself says when it was made, and stays the same however often it is tried.
const LEFT_OUT = new Set(["csrfmiddlewaretoken", "step", "word", "key", "made_at"]);

// The fields that say something, in their order; files go by themselves.
export function saidBy(form, data = new FormData(form)) {
  const said = [];
  for (const [name, value] of data) {
    if (typeof value === "string" && value !== "" && !LEFT_OUT.has(name)) {
      said.push([name, value]);
    }
  }
  // What the phone showed travels along: the server tells where it judges otherwise.
  for (const panel of form.querySelectorAll("[data-sign] [data-verdict]")) {
    const sign = panel.closest("[data-sign]").dataset.sign;
    const chosen = said.some(([name, value]) => name === "sign" && value === sign);
    const verdict = VERDICTS[panel.dataset.verdict];
    if (chosen && verdict) said.push([`${sign}:shown`, verdict]);
  }
  // A record that was all well and now names a sign is no longer that.
  const names = new Set(said.map(([name]) => name));
  return names.has("sign") ? said.filter(([name]) => name !== "all_well") : said;
}

// The sign that a field's photo was taken of; a field of the whole tree names none.
export function signOf(field) {
  const [sign, what] = field.split(":");
  return what === "photo" ? sign : "";
}

// All chosen files, each with the sign it was chosen for.
export function filesOf(form, data = new FormData(form)) {
  const files = [];
  for (const [name, value] of data) {
    // A field without a choice has a file without a name.
    if (typeof value !== "string" && (value.size > 0 || value.name)) {
      files.push({ file: value, sign: signOf(name) });
    }
  }
  return files;
}

export function titleOf(tree, said, photos) {
  const values = (wanted) => said.filter(([name]) => name === wanted);
  const told = [];
  const findings = values("sign").length;
  const tasks = values("task").length + said.filter(([name]) => name.endsWith(":done")).length;
  if (values("all_well").length) told.push(gettext("all well"));
  if (findings) told.push(ngettext("%(number)s finding", "%(number)s findings", findings));
  if (tasks) told.push(ngettext("%(number)s task done", "%(number)s tasks done", tasks));
  if (photos) told.push(ngettext("%(number)s photo", "%(number)s photos", photos));
  return [tree, ...told].filter(Boolean).join(", ");
}

// Who records, where and when: the same on every entry of one saving.
export function recordedBy(body, moment) {
  const { person, personName, orchard } = body.dataset;
  return { person: Number(person), person_name: personName, orchard, made_at: moment };
}

// What the book takes for a word on the tree; the rest tells when and how it was seen.
const WORDS = new Set(["sign", "all_well", "condition", "note", "task", "bbch"]);
export const saysNothing = (said) => !said.some(([name, value]) => WORDS.has(name) && value.trim());

export function lookEntry(form, { key, by, photos = 0 }) {
  const said = saidBy(form);
  const { tree } = form.dataset;
  const fields = { tree, form: said };
  // A photo without a word is a record too; without both there is none.
  if (photos && saysNothing(said)) fields.photos_follow = true;
  const round = said.find(([name]) => name === "round")?.[1];
  if (round) fields.round = round;
  return { key, kind: "inspection", ...by, fields, title: titleOf(tree, said, photos) };
}

// What a form other than that of a look is about: the fields of its entry that say it.
const ABOUT = ["tree", "task", "inspection", "look", "harvest", "treatment"];

// Something done other than a look: its form says what, and about what.
export function deedEntry(form, { key, by }) {
  const { outbox: kind, page } = form.dataset;
  const about = ABOUT.filter((name) => form.dataset[name]).map((name) => [name, form.dataset[name]]);
  const said = saidBy(form);
  // A tree that was typed belongs to the title, as one that the page is about does.
  const typed = said.find(([name]) => ["tree", "trees", "name"].includes(name))?.[1];
  const title = [form.dataset.title, typed].filter(Boolean).join(", ");
  return { key, kind, ...by, fields: { ...Object.fromEntries(about), form: said }, title, page };
}

// A photo that is saved again, because its form was, is the same entry. Held fast: one engine
// makes a file of a form anew once nobody holds it.
const photoKeys = new Map();

export function photoKey(file) {
  if (!photoKeys.has(file)) photoKeys.set(file, crypto.randomUUID());
  return photoKeys.get(file);
}

// A photo that was begun on another page is known here by the key it had there.
export const nameKey = (file, key) => photoKeys.set(file, key);

export async function photoEntry({ file, sign }, { parent = "", by, round = "", full = false, of = "", tree = "" }) {
  const taken_at = await takenAt(file);
  const { bytes, type } = await made(file, { full });
  // Said while it can be chosen anew, not when it has been sent for an hour.
  if (bytes.byteLength > MOST_BYTES) throw Object.assign(new Error("too large"), { tooLarge: true });
  const title = of ? gettext("Photo of %(tree)s", { tree: of }) : gettext("Photo without a record");
  return {
    key: photoKey(file),
    kind: "photo",
    ...by,
    fields: {
      inspection: parent,
      finding_sign: sign,
      taken_at,
      full_size: full,
      file_name: file.name || "photo",
      round,
      // Only where it has no record that says it.
      ...(tree && { tree }),
    },
    title,
    bytes,
    file_type: type,
  };
}

// Keep each photo by itself, one after the other: a phone has little memory, and one photo
// that cannot be kept takes no other along. Gives those that are not: { n, chosen, photo }
// with the photo where it could be made, and what went wrong. `safe` hears of each that is;
// where there is no room, `without` tries it once more without the copy of a draft.
export async function keepPhotos(files, { store, kept, about, step = () => {}, safe = () => {}, without }) {
  const lacking = [];
  for (const [n, chosen] of files.entries()) {
    if (kept.has(chosen.file)) continue;
    let photo = null;
    try {
      if (!chosen.file.size) throw new RangeError("empty");
      step(n + 1, files.length);
      photo = await photoEntry(chosen, about);
      const put = () => store.put([photo]);
      await put().catch((fault) => {
        if (!fault.full || !without) throw fault;
        return without(chosen.file, put);
      });
      kept.add(chosen.file);
      // The next photo waits for no other store.
      safe(chosen.file);
    } catch (fault) {
      lacking.push({ n: n + 1, chosen, photo, fault });
    }
  }
  return lacking;
}

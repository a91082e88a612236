// Entries as a file: the way out when the book will not take one, and the way back in.
const FORMAT = "orchard-outbox";
const SAVED = ["key", "kind", "orchard", "person", "person_name", "made_at", "fields", "title", "page", "file_type"];
const KINDS = ["inspection", "photo", "closure", "taking", "event", "stage", "ripeness_test", "watering", "treatment", "wet_spell", "withdrawal", "second_look", "harvest", "harvest_share", "dry_check", "product", "practice"];
const KEY = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;
const CHUNK = 0x8000;

export class NoEntries extends Error {}

// The text of a file with these entries: [[entry, bytes or nothing], ...].
export function written(pairs, moment) {
  const entries = pairs.map(([entry, bytes]) => ({
    ...Object.fromEntries(SAVED.filter((name) => entry[name] !== undefined).map((name) => [name, entry[name]])),
    ...(bytes ? { bytes: toText(bytes) } : {}),
  }));
  return JSON.stringify({ format: FORMAT, version: 1, saved_at: moment, entries }, null, 1);
}

// The entries of such a file, ready to be kept. All of them are sound, or it throws.
export function read(text) {
  let said;
  try {
    said = JSON.parse(text);
  } catch {
    throw new NoEntries("not JSON");
  }
  if (said?.format !== FORMAT || said.version !== 1 || !Array.isArray(said.entries) || !said.entries.length) {
    throw new NoEntries("another format");
  }
  return said.entries.map((one) => {
    const sound = KEY.test(one.key) && KINDS.includes(one.kind)
      && Number.isInteger(one.person) && typeof one.orchard === "string"
      && !Number.isNaN(Date.parse(one.made_at)) && one.fields && typeof one.fields === "object"
      && (one.kind === "photo" ? typeof one.bytes === "string" : Array.isArray(one.fields.form));
    if (!sound) throw new NoEntries("a damaged entry");
    const entry = Object.fromEntries(SAVED.filter((name) => name in one).map((name) => [name, one[name]]));
    return one.bytes === undefined ? entry : { ...entry, bytes: toBytes(one.bytes) };
  });
}

function toText(bytes) {
  const all = new Uint8Array(bytes);
  let text = "";
  for (let at = 0; at < all.length; at += CHUNK) {
    text += String.fromCharCode(...all.subarray(at, at + CHUNK));
  }
  return btoa(text);
}

function toBytes(text) {
  let plain;
  try {
    plain = atob(text);
  } catch {
    throw new NoEntries("damaged bytes");
  }
  const all = new Uint8Array(plain.length);
  for (let at = 0; at < plain.length; at += 1) all[at] = plain.charCodeAt(at);
  return all.buffer;
}

// Photos of a form that the browser sends by itself: shrunk once they are chosen, like
// those of the outbox. Whatever goes wrong here, a photo is sent as it was chosen.
import { cameraWords, EXIF_PART, headOf, smaller, TAKEN_AT, TAKEN_OFFSET } from "./outbox/photo.js";

const FIELDS = 'form:not([data-outbox]) input[type="file"][accept^="image/"]';
const JPEG = 0xffd8;
// Numbers of the Exif standard (CIPA DC-008, from memory).
const NOTES = 0xffe1;
const TEXT = 2;
const LONG = 4;
const ROW = 12;

// The photo to be sent for one that was chosen. In such a form the server reads the moment
// from the photo's own notes, by the clock of the orchard, so they go along as they are.
// Of what is no JPEG, and of damaged notes, they cannot be read here: it stays as it is.
export async function lighter(file) {
  const head = await headOf(file);
  if (head.byteLength < 2 || head.getUint16(0) !== JPEG) return file;
  const words = cameraWords(head);
  const small = await smaller(file);
  if (!small) return file;
  const parts = words ? [small.slice(0, 2), notesOf(words), small.slice(2)] : [small];
  return new File(parts, file.name, { type: small.type, lastModified: file.lastModified });
}

// The part of a JPEG that holds a camera's words about the moment, and nothing else.
function notesOf({ time, zone }) {
  // Four letters or fewer would stand in the row itself.
  const rows = [[TAKEN_AT, time], [TAKEN_OFFSET, zone]].map(([tag, words]) => [tag, words.padEnd(5, "\0")]);
  // Twelve bytes before the notes proper; places in these are counted from their start.
  const start = 10;
  const first = 8;
  const second = first + 2 + ROW + 4;
  let free = second + 2 + rows.length * ROW + 4;
  const end = rows.reduce((at, [, words]) => at + words.length, free);
  const part = new DataView(new ArrayBuffer(start + end));
  part.setUint16(0, NOTES);
  part.setUint16(2, part.byteLength - 2);
  part.setUint32(4, 0x45786966);
  part.setUint32(start, 0x4d4d002a);
  part.setUint32(start + 4, first);
  const row = (at, tag, kind, count, value) => {
    part.setUint16(start + at, tag);
    part.setUint16(start + at + 2, kind);
    part.setUint32(start + at + 4, count);
    part.setUint32(start + at + 8, value);
  };
  part.setUint16(start + first, 1);
  row(first + 2, EXIF_PART, LONG, 1, second);
  part.setUint16(start + second, rows.length);
  for (const [n, [tag, words]] of rows.entries()) {
    row(second + 2 + n * ROW, tag, TEXT, words.length, free);
    for (const letter of words) {
      part.setUint8(start + free, letter.charCodeAt(0));
      free += 1;
    }
  }
  return part.buffer;
}

export function shrinkPhotos(page) {
  const working = new WeakMap();
  const waiting = new WeakSet();
  let before = Promise.resolve();

  // One after the other: a phone has little memory.
  const begin = (field) => {
    const chosen = [...field.files];
    const work = before.then(() => replace(field, chosen)).catch(() => {});
    before = work;
    working.set(field, work);
    work.then(() => { if (working.get(field) === work) working.delete(field); });
  };
  page.addEventListener("change", ({ target }) => {
    if (target.matches(FIELDS)) begin(target);
  });
  // Chosen before this script was here.
  for (const field of page.querySelectorAll(FIELDS)) if (field.files.length) begin(field);

  // Before all others that listen: to them a form is only sent once its photos are ready.
  page.addEventListener("submit", async (sending) => {
    const { target: form, submitter } = sending;
    const works = [...form.elements].map((field) => working.get(field)).filter(Boolean);
    if (!works.length || !form.requestSubmit) return;
    sending.preventDefault();
    sending.stopImmediatePropagation();
    if (waiting.has(form)) return;
    waiting.add(form);
    submitter?.setAttribute("aria-disabled", "true");
    await Promise.all(works);
    waiting.delete(form);
    submitter?.removeAttribute("aria-disabled");
    form.requestSubmit(submitter);
  }, true);
}

async function replace(field, chosen) {
  const files = new DataTransfer();
  for (const file of chosen) files.items.add(await lighter(file).catch(() => file));
  // Others may have been chosen meanwhile.
  const isStill = field.files.length === chosen.length && chosen.every((file, n) => field.files[n] === file);
  if (isStill && chosen.some((file, n) => files.files[n] !== file)) field.files = files.files;
}

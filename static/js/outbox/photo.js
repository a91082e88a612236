// A photo before it is kept: the moment it was taken is read first, for shrinking it
// loses all that the camera wrote down.
const LONGEST_SIDE = 2048;
const QUALITY = 0.82;
const SMALL_ENOUGH = 600_000;
const HEAD = 256 * 1024;
// The server keeps no larger photo (its PHOTO_MAX_BYTES).
export const MOST_BYTES = 25 * 1024 * 1024;
// A picture that this phone never finishes with must not keep a record from being kept.
const SHRINKING_MS = 15_000;
const READING_MS = 30_000;

// Numbers of the Exif standard (CIPA DC-008, from memory).
export const EXIF_PART = 0x8769;
export const TAKEN_AT = 0x9003;
export const TAKEN_OFFSET = 0x9011;

// When a photo was taken, as an ISO moment, or "" where nothing says so. A camera that
// names no zone is on this phone's time.
export async function takenAt(file) {
  const said = cameraTime(await headOf(file));
  const moment = said ?? (file.lastModified ? new Date(file.lastModified) : null);
  return moment && !Number.isNaN(moment.getTime()) ? moment.toISOString() : "";
}

// The beginning of a file, which holds the notes of its camera.
export async function headOf(file) {
  return new DataView(await within(READING_MS, file.slice(0, HEAD).arrayBuffer()));
}

// The time in a JPEG's own notes, or null.
export function cameraTime(view) {
  try {
    const words = cameraWords(view);
    return words && timeOf(words);
  } catch (fault) {
    if (fault instanceof RangeError) return null; // the notes are cut off or damaged
    throw fault;
  }
}

function exifStart(view) {
  if (view.getUint16(0) !== 0xffd8) return null;
  let at = 2;
  while (at + 4 <= view.byteLength) {
    const mark = view.getUint16(at);
    if (mark === 0xffda || (mark & 0xff00) !== 0xff00) return null;
    const isExif = mark === 0xffe1 && view.getUint32(at + 4) === 0x45786966;
    if (isExif) return at + 10;
    at += 2 + view.getUint16(at + 2);
  }
  return null;
}

// What a JPEG's notes say of the moment, letter by letter, or null where it has none.
export function cameraWords(view) {
  const start = exifStart(view);
  if (start === null) return null;
  const little = view.getUint16(start) === 0x4949;
  const first = start + view.getUint32(start + 4, little);
  const part = rowOf(view, first, EXIF_PART, little);
  if (part === null) return null;
  const rows = start + view.getUint32(part + 8, little);
  const wordsOf = (tag) => textOf(view, start, rowOf(view, rows, tag, little), little);
  return { time: wordsOf(TAKEN_AT), zone: wordsOf(TAKEN_OFFSET) };
}

function timeOf({ time, zone }) {
  const parts = /^(\d{4}):(\d\d):(\d\d) (\d\d):(\d\d):(\d\d)/.exec(time);
  if (!parts || parts[1] === "0000") return null;
  const [, year, month, day, hour, minute, second] = parts;
  const offset = /^[+-]\d\d:\d\d/.exec(zone)?.[0] ?? "";
  return new Date(`${year}-${month}-${day}T${hour}:${minute}:${second}${offset}`);
}

function rowOf(view, rows, tag, little) {
  const count = view.getUint16(rows, little);
  for (let n = 0; n < count; n += 1) {
    const row = rows + 2 + n * 12;
    if (view.getUint16(row, little) === tag) return row;
  }
  return null;
}

function textOf(view, start, row, little) {
  if (row === null) return "";
  const length = view.getUint32(row + 4, little);
  const at = length > 4 ? start + view.getUint32(row + 8, little) : row + 8;
  let text = "";
  for (let n = 0; n < Math.min(length, 64); n += 1) {
    text += String.fromCharCode(view.getUint8(at + n));
  }
  return text;
}

// The bytes to keep of a photo: shrunk, or as it came where it is small, where its full
// size was asked for, and where this phone cannot shrink it: { bytes, type, shrunk }.
export async function made(file, { full = false } = {}) {
  const blob = full ? null : await smaller(file);
  if (blob) return { bytes: await blob.arrayBuffer(), type: blob.type, shrunk: true };
  const bytes = await within(READING_MS, file.arrayBuffer());
  return { bytes, type: file.type, shrunk: false };
}

// A photo shrunk, or nothing where it is small and where this phone cannot shrink it.
export async function smaller(file) {
  const blob = await within(SHRINKING_MS, shrunk(file)).catch(() => null);
  return blob && blob.type === "image/jpeg" && blob.size < file.size ? blob : null;
}

function within(milliseconds, work) {
  return new Promise((resolve, reject) => {
    const late = setTimeout(() => reject(new Error("It takes too long.")), milliseconds);
    work.then(resolve, reject).finally(() => clearTimeout(late));
  });
}

async function shrunk(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  try {
    const factor = LONGEST_SIDE / Math.max(picture.width, picture.height);
    if (factor >= 1 && file.size <= SMALL_ENOUGH) return null;
    const width = Math.max(1, Math.round(picture.width * Math.min(1, factor)));
    const height = Math.max(1, Math.round(picture.height * Math.min(1, factor)));
    const sheet = Object.assign(document.createElement("canvas"), { width, height });
    sheet.getContext("2d").drawImage(picture, 0, 0, width, height);
    return await new Promise((resolve) => { sheet.toBlob(resolve, "image/jpeg", QUALITY); });
  } finally {
    picture.close();
  }
}

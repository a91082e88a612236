// Photos of a form that the browser sends by itself: smaller, with their moment, or as
// they were chosen.
import assert from "node:assert/strict";
import { test } from "node:test";

import { lighter, shrinkPhotos } from "../../static/js/plain_photos.js";
import { cameraWords } from "../../static/js/outbox/photo.js";
import { camera } from "./camera.mjs";

const SMALL = [0xff, 0xd8, 0xff, 0xda, 1, 2, 3];

// A phone that makes of each photo a small one; or where it cannot, fails.
function drawing(t, { fails = false } = {}) {
  globalThis.createImageBitmap = async () => {
    if (fails) throw new Error("InvalidState");
    return { width: 4032, height: 3024, close: () => {} };
  };
  globalThis.document = {
    createElement: () => ({
      getContext: () => ({ drawImage: () => {} }),
      toBlob: (done) => done(new Blob([new Uint8Array(SMALL)], { type: "image/jpeg" })),
    }),
  };
  t.after(() => {
    delete globalThis.createImageBitmap;
    delete globalThis.document;
  });
}

const photo = (head, name = "a.jpg", type = "image/jpeg") => new File([head, new Uint8Array(900_000)], name, { type, lastModified: 7 });

for (const [zone, little] of [["+02:00", true], ["Z", false], ["", true]]) {
  test(`a smaller photo says letter by letter when it was taken: ${zone || "no zone"}`, async (t) => {
    drawing(t);
    const chosen = photo(camera({ zone, little }));
    const sent = await lighter(chosen);
    const bytes = new Uint8Array(await sent.arrayBuffer());
    assert.deepEqual([sent.name, sent.type, sent.lastModified], ["a.jpg", "image/jpeg", 7]);
    assert.deepEqual([...bytes.slice(0, 2), ...bytes.slice(-5)], SMALL);
    const { time, zone: said } = cameraWords(new DataView(bytes.buffer));
    assert.equal(time.replaceAll("\0", ""), "2026:05:12 08:30:15");
    assert.equal(said.replaceAll("\0", ""), zone);
  });
}

test("a photo without notes gets none", async (t) => {
  drawing(t);
  const sent = await lighter(photo(new Uint8Array([0xff, 0xd8, 0xff, 0xda, 0, 0])));
  assert.deepEqual([...new Uint8Array(await sent.arrayBuffer())], SMALL);
});

test("what holds notes that cannot be read here goes as it was chosen", async (t) => {
  drawing(t);
  const heic = photo(new Uint8Array([0, 0, 0, 24, 0x66, 0x74, 0x79, 0x70]), "a.heic", "image/heic");
  assert.equal(await lighter(heic), heic);
  const empty = new File([], "a.jpg");
  assert.equal(await lighter(empty), empty);
  await assert.rejects(lighter(new File([camera().slice(0, 40)], "a.jpg")), RangeError);
});

test("a photo that cannot be shrunk goes as it was chosen", async (t) => {
  drawing(t, { fails: true });
  const chosen = photo(camera());
  assert.equal(await lighter(chosen), chosen);
});

// A page with one form and one field for photos, as far as the script asks for them.
function aPage(files = []) {
  const page = new EventTarget();
  const sent = [];
  const field = { files, matches: () => true };
  const form = {
    elements: [field],
    requestSubmit: (button) => submit(button),
  };
  const submit = (submitter = null) => {
    const sending = new Event("submit", { cancelable: true });
    Object.defineProperties(sending, { target: { value: form }, submitter: { value: submitter } });
    if (page.dispatchEvent(sending)) sent.push([...field.files]);
  };
  const change = () => {
    const changed = new Event("change");
    Object.defineProperty(changed, "target", { value: field });
    page.dispatchEvent(changed);
  };
  page.querySelectorAll = () => [field];
  return { page, field, submit, change, sent };
}

function carrying(t) {
  globalThis.DataTransfer = class {
    files = [];
    items = { add: (file) => this.files.push(file) };
  };
  t.after(() => { delete globalThis.DataTransfer; });
}

const soon = () => new Promise((done) => { setTimeout(done, 20); });

test("a form that is sent at once waits for its photos, and is sent once", async (t) => {
  drawing(t);
  carrying(t);
  const { page, field, submit, change, sent } = aPage();
  shrinkPhotos(page);
  const small = new File([new Uint8Array(SMALL)], "b.jpg");
  field.files = [photo(camera()), small];
  change();
  submit();
  submit();
  assert.deepEqual(sent, []);
  await soon();
  assert.equal(sent.length, 1);
  const [[first, second]] = sent;
  assert.ok(first.size < 200, `${first.size} bytes`);
  assert.equal(second, small);
  submit();
  assert.equal(sent.length, 2);
});

test("photos that were chosen before the script came are shrunk as well", async (t) => {
  drawing(t);
  carrying(t);
  const { page, field } = aPage([photo(camera())]);
  shrinkPhotos(page);
  await soon();
  assert.ok(field.files[0].size < 200);
});

test("a photo chosen meanwhile is not overwritten by the one before", async (t) => {
  drawing(t);
  carrying(t);
  const { page, field, change } = aPage();
  shrinkPhotos(page);
  field.files = [photo(camera())];
  change();
  const other = new File([new Uint8Array([1])], "other.heic");
  field.files = [other];
  await soon();
  assert.deepEqual(field.files, [other]);
});

test("a browser that cannot put files into a field sends what was chosen", async (t) => {
  drawing(t);
  const chosen = photo(camera());
  const { page, field, submit, change, sent } = aPage();
  shrinkPhotos(page);
  field.files = [chosen];
  change();
  submit();
  await soon();
  assert.deepEqual(sent, [[chosen]]);
});

// What this phone has recorded and not yet delivered. Three promises:
// a write counts only once its transaction is complete, on the disk and not in a buffer;
// bytes are kept as bytes, for one engine loses blobs without a word;
// an entry leaves only by `remove`, and only in the revision that was delivered.
import { answered, openBase } from "./base.js";

const NAME = "orchard-outbox";
const MOST_NEWS = 50;

function furnish(base) {
  base.createObjectStore("entries", { keyPath: "key" }).createIndex("seq", "seq");
  base.createObjectStore("bytes");
  base.createObjectStore("news", { keyPath: "key" });
  base.createObjectStore("state");
}

export function openOutbox(how) {
  const { run, close } = openBase(NAME, furnish, how);

  return {
    close,

    // Keep entries, all of them or none. A key that is here already is written over (a
    // mended entry), in its old place and in a new revision; it was seen when it was seen.
    // Where the one that comes but `once` was delivered before, nothing is kept, and the news
    // of it is returned; and where it is not in the `revision` that is known, the entry itself.
    async put(entries, { once = "", revision = null } = {}) {
      for (const { bytes } of entries) {
        if (bytes !== undefined && !(bytes instanceof ArrayBuffer)) {
          throw new TypeError("bytes must be an ArrayBuffer");
        }
      }
      return run(["entries", "bytes", "news"], "readwrite", async (table, files, told) => {
        const gone = once && await answered(told.get(once));
        if (gone) return gone;
        const here = once && revision !== null && await answered(table.get(once));
        if (here && here.revision !== revision) return here;
        const last = await answered(table.index("seq").openCursor(null, "prev"));
        let seq = last ? last.value.seq : 0;
        for (const { bytes, ...said } of entries) {
          const old = await answered(table.get(said.key));
          if (!old) seq += 1;
          table.put({
            ...said,
            made_at: old?.made_at ?? said.made_at,
            seq: old ? old.seq : seq,
            revision: Math.max(old?.revision ?? 0, revision ?? 0) + 1,
            state: "waiting",
            reason: "",
            tries: 0,
            last_try_at: null,
            saved_at: null,
            size: bytes?.byteLength ?? old?.size ?? 0,
          });
          if (bytes) files.put(bytes, said.key);
        }
        return null;
      });
    },

    // All entries in the order they were made, without their bytes.
    list: () => run(["entries"], "readonly", (table) => answered(table.index("seq").getAll())),

    get: (key) => run(["entries"], "readonly", (table) => answered(table.get(key))),

    bytesOf: (key) => run(["bytes"], "readonly", (files) => answered(files.get(key))),

    // Note something about an entry, in the revision it is about; an entry that is gone
    // stays gone.
    mark: (key, changes, revision = null) => run(["entries"], "readwrite", async (table) => {
      const found = await answered(table.get(key));
      if (!found || (revision !== null && found.revision !== revision)) return false;
      table.put({ ...found, ...changes, key, seq: found.seq });
      return true;
    }),

    // Let an entry go, in the revision that was delivered or saved, and keep the news of
    // it. Says whether it went: one that was mended meanwhile stays.
    async remove(key, revision, news = null) {
      const left = (kept) => run(
        ["entries", "bytes", "news"],
        "readwrite",
        async (table, files, told) => {
          const found = await answered(table.get(key));
          if (!found || found.revision !== revision) return false;
          table.delete(key);
          files.delete(key);
          if (kept) {
            told.put({ ...kept, key });
            const all = await answered(told.getAll());
            all.sort((one, other) => (one.at < other.at ? -1 : 1));
            for (const old of all.slice(0, -MOST_NEWS)) told.delete(old.key);
          }
          return true;
        },
      );
      try {
        return await left(news);
      } catch (fault) {
        // A phone with no room for the news must still be able to let go.
        if (!news) throw fault;
        return left(null);
      }
    },

    // What became of delivered entries, newest first.
    news: () => run(["news"], "readonly", async (told) => {
      const all = await answered(told.getAll());
      return all.sort((one, other) => (one.at < other.at ? 1 : -1));
    }),

    seen: (key) => run(["news"], "readwrite", async (told) => {
      const found = await answered(told.get(key));
      if (found) told.put({ ...found, seen: true });
    }),

    recall: (name) => run(["state"], "readonly", (state) => answered(state.get(name))),

    remember: (name, value) => run(["state"], "readwrite", async (state) => {
      state.put(value, name);
    }),

    // Where the engine knows no locks: one tab at a time, until its time is up.
    lease: (holder, until, now) => run(["state"], "readwrite", async (state) => {
      const held = await answered(state.get("lease"));
      if (held && held.holder !== holder && held.until > now) return false;
      state.put({ holder, until }, "lease");
      return true;
    }),
  };
}

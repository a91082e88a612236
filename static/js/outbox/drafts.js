// Looks that somebody has begun and not saved: what is on their forms, kept on this phone as
// it is given. They are not in the outbox, so that a store that is full of them holds no
// record up.
import { answered, openBase } from "./base.js";

const NAME = "orchard-drafts";

function furnish(base) {
  base.createObjectStore("drafts", { keyPath: "key" });
  base.createObjectStore("bytes");
}

// A page without a form asks for this mark first, before it loads what reads the drafts.
function marked(holds) {
  try {
    if (holds) localStorage.setItem(NAME, "holds");
    else localStorage.removeItem(NAME);
  } catch { /* no such store: every page asks the drafts themselves */ }
}

export function openDrafts(how) {
  const { run, leave } = openBase(NAME, furnish, how);
  const write = (work) => run(["drafts", "bytes"], "readwrite", work);

  // Change a draft, or begin it. One that another page has opened since is not touched. Says
  // whether it is kept.
  const change = (about, named) => write(async (drafts, bytes) => {
    const old = await answered(drafts.get(about.key));
    if (old && old.holder !== about.holder) return false;
    drafts.put({ pictures: [], said: [], ...old, ...about, ...named(old?.pictures ?? [], bytes) });
    marked(true);
    return true;
  });

  return {
    leave,

    // What is said on the form now.
    say: (about, said) => change(about, () => ({ said })),

    // The pictures of one field, in place of those it had before: each { name, type,
    // taken_at, photo, bytes }, with the key under which it is a photo in the outbox.
    show: (about, field, files) => change(about, (pictures, bytes) => {
      for (const one of pictures) if (one.field === field) bytes.delete(one.at);
      const shown = files.map(({ bytes: content, ...one }, n) => {
        const at = `${about.key} ${field} ${n}`;
        bytes.put(content, at);
        return { ...one, field, at };
      });
      return { pictures: [...pictures.filter((one) => one.field !== field), ...shown] };
    }),

    // From now on a draft belongs to the page that went on with it.
    hold: (key, holder) => write(async (drafts) => {
      const found = await answered(drafts.get(key));
      if (found) drafts.put({ ...found, holder });
    }),

    // Take the copy of a picture out of a draft, or of all: they are returned.
    take: (key, photo = null) => write(async (drafts, bytes) => {
      const found = await answered(drafts.get(key));
      const isMeant = (one) => photo === null || one.photo === photo;
      const taken = [];
      for (const one of found?.pictures.filter(isMeant) ?? []) {
        taken.push({ ...one, bytes: await answered(bytes.get(one.at)) });
        bytes.delete(one.at);
      }
      if (taken.length) drafts.put({ ...found, pictures: found.pictures.filter((one) => !isMeant(one)) });
      return taken;
    }),

    giveBack: (key, taken) => write(async (drafts, bytes) => {
      const found = await answered(drafts.get(key));
      if (!found) return;
      const pictures = taken.map(({ bytes: content, ...one }) => {
        bytes.put(content, one.at);
        return one;
      });
      drafts.put({ ...found, pictures: [...found.pictures, ...pictures] });
    }),

    // Those of one person in one orchard, the newest first.
    list: ({ person, orchard }) => run(["drafts"], "readonly", async (drafts) => {
      const all = await answered(drafts.getAll());
      marked(all.length > 0);
      return all.filter((one) => one.person === person && one.orchard === orchard)
        .sort((one, other) => (one.began_at < other.began_at ? 1 : -1));
    }),

    // The pictures of a draft with their bytes.
    picturesOf: ({ pictures }) => run(["bytes"], "readonly", (bytes) => Promise.all(
      pictures.map(async (one) => ({ ...one, bytes: await answered(bytes.get(one.at)) })),
    )),

    remove: (key) => write(async (drafts, bytes) => {
      const found = await answered(drafts.get(key));
      for (const { at } of found?.pictures ?? []) bytes.delete(at);
      drafts.delete(key);
    }),
  };
}

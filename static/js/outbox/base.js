// A store of this phone, opened when it is asked for the first time. A write counts only
// once its transaction is complete, on the disk and not in a buffer.

// A form must not stand for ever before a store that never answers.
const PATIENCE = 10_000;

export class StoreFailed extends Error {
  constructor(cause) {
    super(cause?.message || "the phone's store failed", { cause });
    this.name = "StoreFailed";
    // Full: this phone gives us no more room. Late: its store did not answer in time, or was
    // given up with what was under way; the same may go well when tried again, and nobody
    // knows what was kept all the same. Anything else: it gives us no room at all.
    this.full = cause?.name === "QuotaExceededError";
    this.late = ["TimeoutError", "AbortError"].includes(cause?.name);
  }
}

export const answered = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

function cancel(transaction) {
  try {
    transaction.abort();
  } catch { /* it has ended by itself */ }
}

function opened(factory, name, furnish) {
  return new Promise((resolve, reject) => {
    const request = factory.open(name, 1);
    request.onupgradeneeded = () => furnish(request.result);
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

// Gives the way to work in it and the way to let go of it. `furnish` makes its tables.
export function openBase(name, furnish, { factory = globalThis.indexedDB } = {}) {
  let opening = null;
  const underWay = new Set();

  async function base() {
    if (!factory) throw new StoreFailed(null);
    opening ??= opened(factory, name, furnish).then((found) => {
      // Another tab brings a newer page, or the system takes the store away: open anew.
      found.onversionchange = () => { found.close(); opening = null; };
      found.onclose = () => { opening = null; };
      return found;
    });
    try {
      return await opening;
    } catch (fault) {
      opening = null;
      throw new StoreFailed(fault);
    }
  }

  // Let go of the store once what is under way is complete. The next call opens anew.
  function leave() {
    opening?.then((found) => found.close(), () => {});
    opening = null;
  }

  // Let go of it at once; what is not complete by now is not kept.
  function close() {
    for (const transaction of underWay) cancel(transaction);
    leave();
  }

  async function run(names, mode, work, again = true) {
    const found = await inTime(base());
    let transaction;
    try {
      transaction = found.transaction(names, mode, { durability: "strict" });
    } catch (fault) {
      opening = null;
      if (again && fault.name === "InvalidStateError") return run(names, mode, work, false);
      throw new StoreFailed(fault);
    }
    underWay.add(transaction);
    const complete = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      // Given up by ourselves: then it names no fault.
      transaction.onabort = () => reject(
        transaction.error ?? new DOMException("The store was given up.", "AbortError"),
      );
    });
    try {
      const tables = names.map((name) => transaction.objectStore(name));
      const [result] = await inTime(Promise.all([
        work(...tables).catch((fault) => {
          cancel(transaction);
          throw fault;
        }),
        complete,
      ]));
      return result;
    } catch (fault) {
      complete.catch(() => {});
      throw fault instanceof StoreFailed ? fault : new StoreFailed(fault);
    } finally {
      underWay.delete(transaction);
    }
  }

  function inTime(work) {
    return new Promise((resolve, reject) => {
      const timer = setTimeout(() => {
        close();
        reject(new StoreFailed(new DOMException("The store is silent.", "TimeoutError")));
      }, PATIENCE);
      work.then(resolve, reject).finally(() => clearTimeout(timer));
    });
  }

  return { run, close, leave };
}

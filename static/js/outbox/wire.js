// The way to the inbox and back: one entry out, one answer in.
import { csrfToken } from "../cookie.js";
import { gettext } from "../words.js";

export const VERSION = 1;
const TOO_LARGE = 413;
const ANSWERS = ["kept", "already", "wait", "refused"];
// A line on which nothing has moved for this long is dead, whatever it claims.
const SILENCE = 60_000;
// A page that has not come by then does not come.
export const LONGEST_WAY = 15_000;

// Give up after a while. Phones of some years ago cannot do this in one word.
async function within(ms, work) {
  const giving = new AbortController();
  const timer = setTimeout(() => giving.abort(), ms);
  try {
    return await work(giving.signal);
  } finally {
    clearTimeout(timer);
  }
}

// Who is signed in here, or null when that was no answer of ours. A dead line throws.
export async function greet({ address = "/inbox/", fetching = fetch } = {}) {
  const text = await within(SILENCE / 2, async (signal) => {
    const answer = await fetching(address, {
      credentials: "same-origin",
      cache: "no-store",
      redirect: "manual",
      headers: { Accept: "application/json" },
      signal,
    });
    return answer.text();
  });
  const said = readJson(text);
  return said?.version === VERSION && "person" in said ? said : null;
}

// What goes out, the same at every sending but for the moment of it.
export function written(entry, sentAt) {
  const { key, kind, orchard, person, made_at, fields } = entry;
  return JSON.stringify({
    version: VERSION, key, kind, orchard, person, made_at, sent_at: sentAt, fields,
  });
}

// Send one entry: { status, text }. The token is read now: a login renews it.
export async function post(entry, bytes, sentAt, { address = "/inbox/", moved = null } = {}) {
  const body = new FormData();
  body.append("entry", written(entry, sentAt));
  if (bytes) {
    const file = new Blob([bytes], { type: entry.file_type || "application/octet-stream" });
    body.append("file", file, entry.fields.file_name || "photo");
  }
  const headers = { "X-CSRFToken": csrfToken(), Accept: "application/json" };
  if (bytes && globalThis.XMLHttpRequest) return carried(address, headers, body, moved);
  return within(bytes ? 10 * SILENCE : SILENCE, async (signal) => {
    const answer = await fetch(address, {
      method: "POST",
      credentials: "same-origin",
      cache: "no-store",
      redirect: "manual",
      headers,
      body,
      signal,
    });
    return { status: answer.status, text: await answer.text() };
  });
}

// Photos go by the older way: it alone tells how far they have come.
function carried(address, headers, body, moved) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    let silence;
    const listen = () => {
      clearTimeout(silence);
      silence = setTimeout(() => request.abort(), SILENCE);
    };
    const failed = () => {
      clearTimeout(silence);
      reject(new TypeError("the line is dead"));
    };
    request.open("POST", address);
    for (const [name, value] of Object.entries(headers)) request.setRequestHeader(name, value);
    request.upload.onprogress = (step) => {
      listen();
      if (step.lengthComputable) moved?.(step.loaded / step.total);
    };
    request.onprogress = listen;
    request.onload = () => {
      clearTimeout(silence);
      resolve({ status: request.status, text: request.responseText });
    };
    request.onerror = failed;
    request.onabort = failed;
    listen();
    request.send(body);
  });
}

// What the server said of an entry. Whatever is no clear answer of ours means: wait.
export function readAnswer({ status, text }, key) {
  const said = readJson(text);
  const ours = said?.version === VERSION && ANSWERS.includes(said.answer);
  const about = ours && (said.key === key || (said.key === "" && status >= 400));
  const receipt = ours && ["kept", "already"].includes(said.answer);
  if (!ours && status === TOO_LARGE) {
    // A server on the way, which knows no entries, takes no file of this size.
    const reason = gettext("The server takes no file this large. Choose a smaller copy of the photo.");
    return { answer: "refused", clear: true, status, reason, notices: [], url: "" };
  }
  if (!about || (receipt && (said.key !== key || status !== 200))) {
    return { answer: "wait", clear: false, status, reason: "", notices: [], url: "" };
  }
  return {
    answer: said.answer,
    clear: true,
    status,
    reason: said.reason ?? "",
    url: said.url ?? "",
    notices: said.notices ?? [],
    retryAfter: said.retry_after ?? null,
    at: said.server_time,
  };
}

function readJson(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

// Elements made by a script: make("p", { class: "soft" }, "text", child).
export function make(name, marks = {}, ...children) {
  const one = document.createElement(name);
  for (const [mark, value] of Object.entries(marks)) {
    if (typeof value === "function") one.addEventListener(mark, value);
    else if (value !== false && value != null) one.setAttribute(mark, value === true ? "" : value);
  }
  one.append(...children.filter((child) => child !== null && child !== ""));
  return one;
}

// A moment as people say it: the time alone for today, day and time for the rest.
export function told(moment, now = new Date()) {
  const at = new Date(moment);
  if (Number.isNaN(at.getTime())) return "";
  const language = document.documentElement.lang || undefined;
  const time = at.toLocaleTimeString(language, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  if (at.toDateString() === now.toDateString()) return time;
  const day = at.toLocaleDateString(language, { day: "numeric", month: "short" });
  return `${day} ${time}`;
}

export function sized(bytes) {
  if (bytes < 1000) return `${bytes} B`;
  if (bytes < 999_500) return `${Math.round(bytes / 1000)} kB`;
  if (bytes < 1e9) return `${(bytes / 1e6).toFixed(1)} MB`;
  return `${(bytes / 1e9).toFixed(1)} GB`;
}

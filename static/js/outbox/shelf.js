// The page for no signal: what is kept on this phone and opens all the same.
import { make } from "../dom.js";

const TREE = /^\/[^/]+\/trees\/([^/]+)\/$/;
const KINDS = /^(pages|round)-/;

async function kept() {
  const found = new Map();
  for (const name of await caches.keys()) {
    if (!KINDS.test(name)) continue;
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const { pathname, href } = new URL(request.url);
      const page = await cache.match(request, { ignoreVary: true });
      if (page.status === 200) found.set(pathname, { href, page });
    }
  }
  return found;
}

async function titleOf(page) {
  const text = await page.text();
  return new DOMParser().parseFromString(text, "text/html").title;
}

const trees = document.querySelector("[data-trees]");
const others = document.querySelector("[data-others]");
const pages = await kept().catch(() => new Map());
for (const [path, { href, page }] of [...pages].reverse()) {
  const tree = TREE.exec(path);
  const title = await titleOf(page);
  if (tree) {
    trees.append(make("li", { class: "entry whole" }, make("a", { class: "entry-code", href }, decodeURIComponent(tree[1])), make("p", { class: "entry-what" }, title)));
  } else if ((!path.includes("/inspections/") || path.endsWith("/inspections/blank/")) && others.children.length < 20) {
    others.append(make("li", { class: "entry" }, make("p", { class: "entry-what" }, make("a", { href }, title))));
  }
}
document.querySelector("[data-shelf]").hidden = !pages.size;
document.querySelector("[data-nothing]").hidden = pages.size > 0;
document.querySelector("[data-again]").href = location.href;

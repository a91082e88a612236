// The page for no signal: what is kept on this phone and opens all the same.
import { gettext, learnWords } from "../words.js";
import { make, told } from "../dom.js";

const TREE = /^\/[^/]+\/trees\/([^/]+)\/$/;
const BLANK = /^\/([^/]+)\/inspections\/blank\/$/;
const ROUND = /^\/[^/]+\/rounds\/\d+\/$/;
const KINDS = /^(pages|round)-/;

// The freshest copy of each page, by its path.
async function kept() {
  const found = new Map();
  for (const name of await caches.keys()) {
    if (!KINDS.test(name)) continue;
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const { pathname, href } = new URL(request.url);
      const page = await cache.match(request, { ignoreVary: true });
      const isPage = page.status === 200 && page.headers.get("content-type")?.startsWith("text/html");
      if (isPage && !(ageOf(found.get(pathname)?.page) > ageOf(page))) found.set(pathname, { href, page });
    }
  }
  return found;
}

const ageOf = (page) => Date.parse(page?.headers.get("date") ?? 0) || 0;

async function read(page) {
  return new DOMParser().parseFromString(await page.text(), "text/html");
}

const part = (name) => document.querySelector(`[data-${name}]`);

// The address of a tag holds no code: it is typed from what is printed on the tag.
function askForCode(pages) {
  if (!location.pathname.startsWith("/t/")) return;
  const blanks = [...pages.keys()].map((path) => BLANK.exec(path)).filter(Boolean);
  for (const [path, orchard] of blanks) {
    const code = make("input", { class: "input", id: `code-${orchard}`, name: "tree", required: true, maxlength: 60, autocapitalize: "characters", autocomplete: "off" });
    const words = blanks.length > 1 ? gettext("Code on the tag (%(orchard)s)", { orchard }) : gettext("Code on the tag");
    part("tag-forms").append(make(
      "form",
      { class: "form", action: path },
      make("div", { class: "field" }, make("label", { for: code.id }, words), code),
      make("div", { class: "deeds" }, make("button", { class: "button primary" }, gettext("Open form"))),
    ));
  }
  part("tag").hidden = false;
  part("tag-forms").hidden = !blanks.length;
  part("no-form").hidden = blanks.length > 0;
}

// Each round that was taken along, with how far it is by what this phone knows.
async function showRounds(pages) {
  const names = (await caches.keys()).filter((name) => name.startsWith("round-"));
  if (!names.length) return;
  const [{ keptRounds }, { progressOf }, { store }] = await Promise.all([import("../taking.js"), import("../walk.js"), import("./start.js")]);
  const [entries, news] = await Promise.all([store.list(), store.news()]).catch(() => [[], []]);
  for (const { round, at, missing } of await keptRounds()) {
    const path = round.replace("pages/", "");
    const found = pages.get(path);
    if (!found) continue;
    const page = await read(found.page);
    const { all, left } = progressOf(page, entries, news);
    const said = [
      left ? gettext("%(left)s of %(all)s trees still to check.", { left, all }) : gettext("Every tree is noted."),
      missing ? gettext("Some of its pages are missing.") : "",
      gettext("Taken along at %(time)s.", { time: told(at) }),
    ];
    part("rounds").querySelector("ul").append(make(
      "li",
      { class: "entry", "data-round": path },
      make("p", { class: "entry-what" }, make("a", { href: found.href }, page.title), make("small", {}, said.filter(Boolean).join(" "))),
    ));
    part("rounds").hidden = false;
  }
}

async function showPages(pages) {
  const [trees, others] = [part("trees"), part("others")];
  for (const [path, { href, page }] of [...pages].reverse()) {
    if (ROUND.test(path) && document.querySelector(`[data-round="${path}"]`)) continue;
    const tree = TREE.exec(path);
    const isOther = !path.includes("/inspections/") || BLANK.test(path);
    if (!tree && !(isOther && others.children.length < 20)) continue;
    const { title } = await read(page);
    if (tree) {
      trees.append(make("li", { class: "entry whole" }, make("a", { class: "entry-code", href }, decodeURIComponent(tree[1])), make("p", { class: "entry-what" }, title)));
    } else {
      others.append(make("li", { class: "entry" }, make("p", { class: "entry-what" }, make("a", { href }, title))));
    }
  }
  part("shelf").hidden = !pages.size;
  part("nothing").hidden = pages.size > 0;
}

await learnWords(document.documentElement.lang);
part("again").href = location.href;
const pages = await kept().catch(() => new Map());
askForCode(pages);
await showRounds(pages).catch(() => {});
await showPages(pages);

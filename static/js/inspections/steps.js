// One question a screen: where, what it looks like, what it is asked, the verdict. "Back"
// goes a step back, and nothing that was answered is lost by it.
import { make } from "../dom.js";

// Two phone screens hold so many drawings below "I don't know".
const A_PAGE = 8;
const A_ROW = 3;
const UNKNOWN = "unknown_new";

export function tendSteps(form, page, boxes, { search, wire, fetchTexts }) {
  const words = page.getElementById("words").dataset;
  const { history } = page.defaultView;
  const byKey = new Map(boxes.map((box) => [box.dataset.sign, box]));
  const tickOf = (box) => box.querySelector('[name="sign"]');
  const grid = make("div", { class: "sign-grid" });
  const groups = form.querySelector("[data-groups]");
  const head = form.querySelector("#signs-head");
  const more = form.querySelector("[data-more-signs]");
  let now = { screen: "where" };
  let turning;

  groups.replaceChildren(grid);
  grid.append(...boxes);
  for (const box of boxes) addDeeds(box);
  const unknown = byKey.get(UNKNOWN);
  if (unknown) unknown.querySelector(".tile-face > b").textContent = words.unknown;

  function signsOf(place) {
    const here = boxes.filter((box) => box.dataset.places.split(" ").includes(place) && box !== unknown);
    const units = [];
    for (const box of here) {
      const pair = units.find((unit) => unit.length === 1 && unit[0].dataset.pair === box.dataset.sign);
      if (pair) pair.push(box);
      else units.push([box]);
    }
    const isUsual = (unit) => unit.some((box) => "usual" in box.dataset);
    const isOwn = (unit) => unit[0].dataset.places.startsWith(place);
    const rank = (unit) => (isUsual(unit) ? 0 : 2) + (isOwn(unit) ? 0 : 1);
    return inRows(units.sort((one, other) => rank(one) - rank(other)));
  }

  function inRows(units) {
    const rows = [];
    let waiting = [];
    for (const unit of units) {
      if (unit.length > 1) rows.push(unit);
      else if (waiting.length) {
        rows.push(...waiting, unit);
        waiting = [];
      } else waiting = [unit];
    }
    return [...rows, ...waiting];
  }

  function pagesOf(units) {
    const pages = [[]];
    for (const unit of units) {
      if (pages.at(-1).length + unit.length > A_PAGE) pages.push([]);
      pages.at(-1).push(...unit);
    }
    return pages;
  }

  function showSigns({ place, found, turn = 0 }) {
    const units = found ? found.filter((key) => byKey.has(key)).map((key) => [byKey.get(key)]) : signsOf(place);
    const pages = pagesOf(units.filter(([box]) => box !== unknown));
    const shown = [unknown, ...pages[turn % pages.length]].filter(Boolean);
    for (const box of boxes) {
      box.hidden = !shown.includes(box);
      const pair = !found && shown.includes(byKey.get(box.dataset.pair)) ? byKey.get(box.dataset.pair) : null;
      box.classList.toggle("is-left", Boolean(pair) && shown.indexOf(box) < shown.indexOf(pair));
      box.classList.toggle("is-right", Boolean(pair) && shown.indexOf(box) > shown.indexOf(pair));
    }
    grid.append(...shown);
    more.parentElement.hidden = pages.length < 2;
    const named = form.querySelector(`[data-place="${place}"]`)?.textContent.trim().replace(/\s+/g, " ");
    head.textContent = place ? `${words.what} ${named}` : words.what;
  }

  const asksOf = (box) => [...box.querySelectorAll("[data-fact]")];
  const isAnswered = (ask) => {
    const typed = ask.querySelector('input[type="text"]');
    return typed ? typed.value.trim() !== "" : ask.querySelector("input:checked") !== null;
  };
  const openAsks = (box) => asksOf(box).filter((ask) => !ask.hidden && !isAnswered(ask));

  function showSign({ screen, sign, fact }) {
    const box = byKey.get(sign);
    for (const one of boxes) one.hidden = one !== box;
    for (const ask of asksOf(box)) ask.classList.toggle("is-asked", ask.dataset.fact === fact);
    const { src } = box.querySelector(".tile-face > img");
    head.replaceChildren(make("img", { src, alt: "", width: 54, height: 54 }), box.dataset.name);
    if (screen !== "verdict") return;
    const rest = box.querySelector("[data-rest]");
    rest.replaceChildren(...openAsks(box).map((ask) => make("button", {
      class: "button", type: "button", "data-asks": ask.dataset.fact, click: () => go({ screen: "ask", sign, fact: ask.dataset.fact }),
    }, `${words.oneMore} ${ask.querySelector("legend, label").textContent.trim()}`)));
    if (box.querySelector("[data-said]").hidden) rest.prepend(make("p", {}, words.noAnswer));
  }

  function strip(name, signs) {
    const place = form.querySelector(`[data-strip="${name}"]`);
    place.hidden = !signs.length;
    place.lastElementChild.replaceChildren(...signs.map((box) => {
      const drawing = box.querySelector(".tile-face img");
      return make(
        "button",
        { class: "picture", type: "button", click: () => choose(box) },
        seen(make("img", { "data-src": drawing.src, alt: "", width: 96, height: 96 })),
        box.dataset.name.split(" (")[0],
      );
    }));
  }

  const watcher = new IntersectionObserver((turns) => {
    for (const { isIntersecting, target } of turns) if (isIntersecting) target.src = target.dataset.src;
  });
  function seen(drawing) {
    watcher.observe(drawing);
    return drawing;
  }

  function showWhere() {
    const chosen = boxes.filter((box) => tickOf(box).checked);
    const again = boxes.filter((box) => "again" in box.dataset && !chosen.includes(box));
    const usual = boxes.filter((box) => "usual" in box.dataset && !again.includes(box) && !chosen.includes(box));
    again.sort((one, other) => (one.dataset.again < other.dataset.again ? 1 : -1));
    strip("again", again.slice(0, A_ROW));
    strip("chosen", chosen);
    strip("usual", usual.slice(0, again.length || chosen.length ? A_ROW : 2 * A_ROW));
  }

  function show(step) {
    now = step;
    form.dataset.screen = step.screen;
    for (const part of form.querySelectorAll("[data-on]")) {
      part.hidden = !part.dataset.on.split(" ").includes(step.screen);
    }
    if (step.screen === "where") showWhere();
    if (step.screen === "what") {
      fetchTexts();
      showSigns(step);
    }
    if (["ask", "verdict"].includes(step.screen)) showSign(step);
  }

  // How many steps lie behind, so that whoever leaves the form leaves them all.
  function note(step, { quiet }) {
    const depth = history.state?.depth ?? 0;
    if (quiet) history.replaceState({ step, depth }, "");
    else history.pushState({ step, depth: depth + 1 }, "");
  }

  function go(step, { quiet = false } = {}) {
    note(step, { quiet });
    show(step);
    if (quiet) return;
    const title = step.screen === "where" ? form.querySelector("#where-head")
      : step.screen === "more" ? form.querySelector('[data-on="more"]') : head;
    title.focus({ preventScroll: true });
    form.scrollIntoView({ block: "start", behavior: "instant" });
  }

  async function proceed(box) {
    await wire(box);
    const sign = box.dataset.sign;
    const open = openAsks(box);
    const { missing, verdict } = box.querySelector("[data-said]").dataset;
    const needed = open.find((ask) => ask === asksOf(box)[0])
      ?? (verdict === "w" ? open.find((ask) => ask.dataset.fact === missing) : undefined);
    if (needed && needed.dataset.fact !== now.fact) go({ screen: "ask", sign, fact: needed.dataset.fact });
    else go({ screen: "verdict", sign });
  }

  function choose(box) {
    const tick = tickOf(box);
    if (!tick.checked) tick.click();
    else go({ screen: "verdict", sign: box.dataset.sign });
  }

  function addDeeds(box) {
    box.dataset.name = box.querySelector(".tile-face > b").textContent;
    box.querySelector(".sign-more").append(box.querySelector("[data-card]"));
    box.querySelector("[data-said]").after(make("div", { class: "rest", "data-rest": true }));
    box.querySelector(".sign-more").append(make("button", {
      class: "button plain not-this",
      type: "button",
      click: () => {
        tickOf(box).checked = false;
        tickOf(box).dispatchEvent(new Event("input", { bubbles: true }));
        go({ screen: "where" });
      },
    }, words.notThis));
    const tick = tickOf(box);
    tick.addEventListener("click", (press) => {
      if (tick.checked) return;
      press.preventDefault();
      go({ screen: "verdict", sign: box.dataset.sign });
    });
    tick.addEventListener("change", () => { if (tick.checked) proceed(box); });
  }

  form.addEventListener("click", (press) => {
    const at = (mark) => press.target.closest(mark);
    const place = at("[data-place]");
    const opens = at("[data-opens]");
    if (place) {
      press.preventDefault();
      go({ screen: "what", place: place.dataset.place });
    } else if (opens && byKey.has(opens.dataset.opens)) {
      press.preventDefault();
      choose(byKey.get(opens.dataset.opens));
    } else if (at("[data-go]")) go({ screen: at("[data-go]").dataset.go });
    else if (at("[data-back]")) history.back();
    else if (at("[data-next]")) proceed(byKey.get(now.sign));
    else if (at("[data-more-signs]")) go({ ...now, turn: (now.turn ?? 0) + 1 });
    else if (at(".quick .button") || (at(".ask label.tile") && press.detail > 0)) {
      // An arrow key turns no page. A finger presses the tile, and the tile its field:
      // engines differ in how they count the second.
      clearTimeout(turning);
      turning = setTimeout(() => proceed(byKey.get(now.sign)));
    }
  });
  page.defaultView.addEventListener("popstate", ({ state }) => {
    show(state?.step ?? { screen: "where" });
  });
  form.elements.word.addEventListener("input", async () => {
    const typed = form.elements.word.value.trim();
    if (!typed) {
      if (now.found) go({ screen: "where" }, { quiet: true });
      return;
    }
    const found = await search(typed, [...byKey.keys()]);
    if (form.elements.word.value.trim() !== typed) return;
    const step = { screen: "what", found };
    note(step, { quiet: now.screen !== "where" });
    show(step);
  });
  form.addEventListener("change", ({ target }) => {
    if (target.type !== "file") return;
    const isEmpty = [...target.files].some((file) => file.size === 0);
    if (isEmpty) target.value = "";
    const { length } = target.files;
    const said = target.previousElementSibling;
    said.dataset.before ??= said.textContent;
    const size = form.querySelector("[data-full-size]")?.closest("label");
    if (size) size.hidden = !form.elements.photos.files.length;
    said.textContent = isEmpty ? words.empty
      : length === 0 ? said.dataset.before
      : length === 1 ? words.taken1 : words.taken.replace("{n}", length);
  });

  // Go where a field of the form stands.
  function showPartOf(field) {
    const sign = field.closest("[data-sign]")?.dataset.sign;
    if (sign) go({ screen: "verdict", sign });
    else if (field.closest("[data-on]")?.hidden) go({ screen: field.closest("[data-on]").dataset.on.split(" ")[0] });
  }

  go({ screen: "where" }, { quiet: true });
  // Somebody may have typed before this script came.
  const { word } = form.elements;
  if (word.value) word.dispatchEvent(new Event("input"));
  return { showPartOf };
}

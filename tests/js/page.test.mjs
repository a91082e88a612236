// The scripts of every page, run against a page that only keeps its listeners.
import assert from "node:assert/strict";
import { test } from "node:test";

import { csrfToken } from "../../static/js/cookie.js";
import { guardForms } from "../../static/js/forms.js";
import { foldMenu } from "../../static/js/menu.js";
import { tendSwaps } from "../../static/js/swaps.js";

function listening(rest = {}) {
  const heard = {};
  return {
    addEventListener: (name, act) => { heard[name] = act; },
    tell: (name, event) => heard[name](event),
    ...rest,
  };
}

function aPage(rest = {}) {
  return listening({ defaultView: listening(), forms: [], ...rest });
}

function aForm({ method = "post", marks = [] } = {}) {
  const button = {
    attributes: {},
    setAttribute(name, value) { this.attributes[name] = value; },
    removeAttribute(name) { delete this.attributes[name]; },
  };
  return {
    method,
    button,
    matches: (query) => marks.some((mark) => query.includes(mark)),
    querySelector: () => (button.attributes["aria-disabled"] ? button : null),
  };
}

function send(page, form, defaultPrevented = false) {
  const sending = {
    target: form,
    submitter: form.button,
    defaultPrevented,
    preventDefault() { this.defaultPrevented = true; },
  };
  page.tell("submit", sending);
  return !sending.defaultPrevented;
}

test("a form goes out once, and its button says so", () => {
  const page = aPage();
  guardForms(page);
  const form = aForm();
  assert.equal(send(page, form), true);
  assert.equal(form.button.attributes["aria-disabled"], "true");
  assert.equal(send(page, form), false);
});

test("another form of the page still goes out", () => {
  const page = aPage();
  guardForms(page);
  send(page, aForm());
  assert.equal(send(page, aForm()), true);
});

test("a search, an htmx form and a form of the outbox are left alone", () => {
  const page = aPage();
  guardForms(page);
  for (const form of [
    aForm({ method: "get" }),
    aForm({ marks: ["[hx-post]"] }),
    aForm({ marks: ["[data-outbox]"] }),
  ]) {
    assert.equal(send(page, form), true);
    assert.equal(send(page, form), true);
    assert.deepEqual(form.button.attributes, {});
  }
});

test("a form that another script stopped may be sent afterwards", () => {
  const page = aPage();
  guardForms(page);
  const form = aForm();
  send(page, form, true);
  assert.equal(send(page, form), true);
});

test("a page brought back by Back may be sent again", () => {
  const form = aForm();
  const page = aPage({ forms: [form] });
  guardForms(page);
  send(page, form);
  page.defaultView.tell("pageshow", { persisted: false });
  assert.equal(send(page, form), false);
  page.defaultView.tell("pageshow", { persisted: true });
  assert.deepEqual(form.button.attributes, {});
  assert.equal(send(page, form), true);
});

test("the menu stands open at a desk, folds on a phone and closes with Escape", () => {
  let focused = 0;
  const menu = {
    open: false,
    querySelector: () => ({ focus: () => { focused += 1; } }),
    contains: (what) => what === "inside",
  };
  const desk = listening({ matches: true });
  const page = aPage({ querySelector: () => menu });
  page.defaultView.matchMedia = () => desk;
  foldMenu(page);
  assert.equal(menu.open, true);
  page.tell("keydown", { key: "Escape" });
  page.tell("click", { target: "outside" });
  assert.equal(menu.open, true);

  desk.matches = false;
  desk.tell("change");
  assert.equal(menu.open, false);
  menu.open = true;
  page.tell("click", { target: "inside" });
  assert.equal(menu.open, true);
  page.tell("keydown", { key: "Escape" });
  assert.equal(menu.open, false);
  assert.equal(focused, 1);
  menu.open = true;
  page.tell("click", { target: "outside" });
  assert.equal(menu.open, false);
});

test("a page without a menu is no fault", () => {
  foldMenu(aPage({ querySelector: () => null }));
});

test("the token is read from the cookie at the moment of sending", () => {
  globalThis.document = { cookie: "sessionid=1; csrftoken=early" };
  const page = aPage();
  tendSwaps(page);
  document.cookie = "other=csrftoken=no; csrftoken=la%3Dte";
  const asking = { detail: { verb: "post", headers: {} } };
  page.tell("htmx:configRequest", asking);
  assert.equal(asking.detail.headers["X-CSRFToken"], "la=te");
  const reading = { detail: { verb: "get", headers: {} } };
  page.tell("htmx:configRequest", reading);
  assert.deepEqual(reading.detail.headers, {});
  document.cookie = "";
  assert.equal(csrfToken(), "");
});

test("after a swap whoever was at a control is put back at its successor", () => {
  const body = {};
  let focused = 0;
  const successor = { focus: () => { focused += 1; } };
  const page = aPage({
    body,
    activeElement: { id: "filter" },
    getElementById: (id) => (id === "filter" ? successor : null),
  });
  tendSwaps(page);
  page.tell("htmx:beforeSwap");
  page.activeElement = body;
  page.tell("htmx:afterSettle", { detail: { elt: { querySelector: () => null } } });
  assert.equal(focused, 1);
});

test("a swap that left the control in place moves nobody", () => {
  const control = { id: "filter", focus: () => assert.fail("moved") };
  const page = aPage({ body: {}, activeElement: control, getElementById: () => control });
  tendSwaps(page);
  page.tell("htmx:beforeSwap");
  page.tell("htmx:afterSettle", { detail: { elt: { querySelector: () => null } } });
});

test("a refusal that arrives is what is read next", () => {
  let focused = 0;
  const alert = { focus: () => { focused += 1; } };
  const page = aPage({ body: {}, activeElement: { id: "" } });
  tendSwaps(page);
  page.tell("htmx:beforeSwap");
  page.tell("htmx:afterSettle", { detail: { elt: { querySelector: () => alert } } });
  assert.equal(focused, 1);
  assert.equal(alert.tabIndex, -1);
});

// A part of the page, and elements that `make` makes, as far as a notice needs them.
function anElement(name, rest = {}) {
  const one = {
    name,
    attributes: {},
    children: [],
    listeners: {},
    dataset: {},
    setAttribute(key, value) {
      this.attributes[key] = value;
      if (key.startsWith("data-")) this.dataset[key.slice(5)] = value;
    },
    addEventListener(key, act) { this.listeners[key] = act; },
    append(...children) { this.children.push(...children); },
    prepend(child) {
      child.remove = () => { this.children = this.children.filter((other) => other !== child); };
      this.children.unshift(child);
    },
    querySelector(query) {
      return query === "[data-missing]" ? this.children.find((child) => "missing" in (child.dataset ?? {})) : null;
    },
    get text() {
      return this.children.map((child) => (typeof child === "string" ? child : child.text)).join(" ");
    },
    ...rest,
  };
  return one;
}

function aLink(done) {
  return { matches: () => false, focus: () => done.push("focus"), click: () => done.push("click") };
}

function missing(page, event, elt, target, xhr = {}) {
  page.tell(event, { detail: { elt, target, xhr } });
}

test("a part that does not come says why in its place, and is asked for again", () => {
  globalThis.document = { cookie: "", createElement: (name) => anElement(name) };
  const page = aPage({ activeElement: { focus: () => assert.fail("moved") } });
  tendSwaps(page, (html) => html);
  const target = anElement("section");
  const done = [];
  missing(page, "htmx:responseError", aLink(done), target, { responseText: "The server's disk is full." });
  const [notice] = target.children;
  assert.equal(notice.attributes.role, "alert");
  assert.equal(notice.text, "The server's disk is full. What you see here is older. Try again");
  notice.children[1].listeners.click();
  assert.deepEqual(done, ["focus", "click"]);
});

test("a form is asked for again by its own button", () => {
  globalThis.document = { cookie: "", createElement: (name) => anElement(name) };
  const page = aPage();
  tendSwaps(page, () => "");
  const [target, done] = [anElement("section"), []];
  const form = { matches: (query) => query === "form", querySelector: () => aLink(done) };
  missing(page, "htmx:responseError", form, target, { responseText: "<h1>Broken</h1>" });
  assert.match(target.text, /^The server can't show this now\./);
  target.children[0].children[1].listeners.click();
  assert.deepEqual(done, ["focus", "click"]);
});

test("a dead line says so once, and another reason takes its place", () => {
  globalThis.document = { cookie: "", createElement: (name) => anElement(name) };
  const page = aPage();
  tendSwaps(page, (html) => html);
  const target = anElement("section");
  missing(page, "htmx:sendError", aLink([]), target);
  const [first] = target.children;
  missing(page, "htmx:timeout", aLink([]), target);
  assert.deepEqual(target.children, [first]);
  assert.match(first.text, /can't be reached/);
  missing(page, "htmx:responseError", aLink([]), target, { responseText: "The server is busy." });
  assert.equal(target.children.length, 1);
  assert.match(target.text, /^The server is busy\./);
});

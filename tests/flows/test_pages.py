"""Every page, seen: narrow and wide, light and dark, by outside judges.

The list of addresses and the world they show come from the table of who may open what,
so that a new address is visited as soon as it has its row there.
"""

from __future__ import annotations

import gzip
import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.db import transaction
from django.http import FileResponse, HttpRequest, HttpResponse
from django.test import Client
from django.urls import path, reverse
from django.views.decorators.cache import cache_control

from orchard.records.models import Orchard
from orchard.web.pages import style_sheet
from orchard.web.urls import urlpatterns as site
from tests.conftest import make_tree
from tests.flows.conftest import DESK, NARROW, QUALITY, opened, signed_in, watch
from tests.web.test_who_may import INSIDE, NO, OPEN, addresses

pytestmark = pytest.mark.on_sqlite

AXE = QUALITY / "axe-core" / "axe.min.js"
VNU = QUALITY / "vnu-jar" / "build" / "dist" / "vnu.jar"
# Its own figures of how it runs would lie in a temporary folder; it runs too short to
# be worth the thorough compiler.
JAVA = [
    *("java", "-Xss16m", "-XX:-UsePerfData"),
    *("-XX:TieredStopAtLevel=1", "-XX:+UseSerialGC"),
]


def judge_script(_request: HttpRequest) -> FileResponse:
    return FileResponse(AXE.open("rb"), content_type="text/javascript")


# What the server answered to a form that was sent, to be seen like any other page.
refusals: dict[int, HttpResponse] = {}
urlpatterns = [
    # The page of all parts stands only where DEBUG is on; here it is one of the pages.
    path("look/", style_sheet.look, name="look"),
    # Fetched and compiled once, unlike what a test hands over page by page.
    path("judge.js", cache_control(max_age=3600)(judge_script)),
    path("refusals/<int:number>/", lambda _request, number: refusals[number]),
    *site,
]
TAGS = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"]
# What colours and sizes decide is judged, light and narrow and dark and wide, where on
# the page something stands in something else that no page before had it in.
LOOKS = ["color-contrast", "target-size"]
EVERY_RULE = {"runOnly": {"type": "tag", "values": TAGS}}
ONLY_LOOKS = {"runOnly": {"type": "rule", "values": LOOKS}}
NO_LOOKS = {**EVERY_RULE, "rules": {rule: {"enabled": False} for rule in LOOKS}}
STANDS_IN = """() => {
  const call = ({ tagName, classList }) => [tagName, ...classList].join(".");
  const all = [...document.querySelectorAll("body *")];
  return [...new Set(all.map((one) => `${call(one.parentElement)} ${call(one)}`))];
}"""

# A first visit on a weak line, in requests besides pictures and in bytes with all that
# is said around each answer.
MOST_REQUESTS, MOST_BYTES, AROUND = 12, 40_000, 400
# Pages that are many pictures, or carry what works there without signal.
HEAVIER = {
    "computed": 45_000,
    "guide": 45_000,
    "guide by word": 63_000,
    "inspection-new": 43_000,
    "inspection-blank": 43_000,
    "inspection-correction": 66_000,
    "the form with signs": 68_000,
    "treatment-new": 43_500,
    "treatment-new of a label": 43_500,
    "treatment-plan-new": 43_500,
    "look": 135_000,
    "round-show": 43_500,
    "round-take": 43_500,
    "round-handing": 43_500,
}

# What answers a GET with something that is no page of its own.
NO_PAGES = {
    "start": "leads on to an orchard or to the sign-in",
    "back-room-sign-in": "leads on to the sign-in",
    "tree-timeline": "a part of the tree's page, for htmx",
    "inspection-sign": "a part of the inspection form",
    "register-example": "a file to fill in",
    "ledger-export": "a file to keep",
    "treatment-register-export": "a file to keep",
    "tag-sheet": "made from a choice that is sent; asked for below",
    "talk-deck": "a file to keep",
    "talk-pictures": "a file to keep",
    "talk-player": "a file to keep, seen by itself in test_talk.py",
    "public-photo": "a picture",
}
# What leads on to its own page at once: the token does not stay in the address.
LEAD_ON = {"password-new"}

POLICY = "violates the following Content Security Policy directive"
# Each question to a page is a journey of its own: what can be asked together is.
FIRST = """() => {
  const wide = (%s)();
  // Closed folds hide what stands in them from the judges.
  for (const fold of document.querySelectorAll("main details")) fold.open = true;
  return [document.querySelectorAll("h1").length, document.title.trim(), wide];
}"""
# What the browser had asked for when the page stood; the rest comes behind it.
LOADED = """() => {
  const [page] = performance.getEntriesByType("navigation");
  // A picture that may wait comes before or after, as the browser finds time.
  const waiting = document.querySelectorAll("img[loading=lazy]");
  const lazy = new Set([...waiting].map((one) => one.src));
  return [page.encodedBodySize, performance.getEntriesByType("resource")
    .filter((one) => one.startTime <= page.loadEventStart && !lazy.has(one.name))
    .map((one) => [one.name, one.initiatorType, one.encodedBodySize])];
}"""
CALL_JUDGE = """() => new Promise((ready, failed) => {
  const judge = Object.assign(document.createElement("script"), { src: "/judge.js" });
  judge.onload = () => ready(window.refusedByPolicy);
  judge.onerror = failed;
  document.head.append(judge);
})"""
# A new size takes a few frames to arrive; what is measured before is the old page.
SETTLED = """async ({ width, height }) => {
  const frame = () => new Promise((go) => { requestAnimationFrame(go); });
  for (let n = 0; innerWidth !== width || innerHeight !== height; n += 1) {
    if (n > 300) throw new Error(`still ${innerWidth} by ${innerHeight}`);
    await frame();
  }
  await frame();
  await frame();
}"""
TOO_WIDE = """() => {
  const room = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= room) return "";
  const wide = [...document.querySelectorAll("body *")].filter((one) =>
    one.getBoundingClientRect().right > room + 1 && !one.closest(".wide-table"));
  const last = wide.at(-1);
  return `${document.documentElement.scrollWidth} px wide`
    + (last ? `, by ${last.outerHTML.slice(0, 90)}` : "");
}"""
# Told by the page itself: the console tells it late, and mixed with what the
# accessibility checker does when it writes styles of its own.
# What the worker keeps for days without signal would answer for the server.
NO_WORKER = "delete Navigator.prototype.serviceWorker;"
LISTEN = """window.refusedByPolicy = [];
document.addEventListener("securitypolicyviolation", (one) => {
  const { violatedDirective, blockedURI, sample } = one;
  window.refusedByPolicy.push(`${violatedDirective}: ${blockedURI} ${sample}`);
});"""
JUDGE = """async (rules) => {
  // The bar at the thumb always lies over something, which can be scrolled clear of it.
  for (const one of document.querySelectorAll("body *")) {
    if (getComputedStyle(one).position === "sticky") one.style.position = "static";
  }
  const found = await axe.run(document, {
    ...rules, resultTypes: ["violations"], elementRef: false,
  });
  return found.violations.map(({ id, nodes }) => {
    const where = nodes.slice(0, 3).map(({ html, any, all, none }) => {
      const why = [...any, ...all, ...none].map((one) => one.message).join("; ");
      return `${html.slice(0, 140)} (${why})`;
    });
    return `${id}: ${where.join(" | ")}`;
  });
}"""


@dataclass
class Walk:
    """A browser on its way through the pages, and what was wrong with them."""

    page: Any
    kept: Path
    home: str
    pages: int = 0
    faults: dict[str, list[str]] = field(default_factory=dict)
    looked_at: set[str] = field(default_factory=set)

    def blame(self, label: str, *faults: str) -> None:
        if faults:
            self.faults.setdefault(label, []).extend(faults)

    def see(
        self, label: str, address: str, *, status: int = 200, whole: bool = True
    ) -> None:
        """Open a page and judge it; one that repeats another, narrow and light only."""
        self.page.complaints.clear()
        answer = self.page.goto(address)
        if answer.status != status:
            self.blame(label, f"answers {answer.status} instead of {status}")
        if answer.headers.get("content-type", "").startswith("text/html"):
            self.judge(label, answer.text(), whole=whole)

    def judge(self, label: str, html: str, *, whole: bool) -> None:
        """Look at the page as it stands: narrow and wide, folded and unfolded."""
        self.pages += 1
        name = re.sub(r"[^a-z0-9]+", "-", label.lower())
        (self.kept / f"{name}.html").write_text(html, encoding="utf-8")
        self.weigh(label)
        self.resize(NARROW)
        headings, title, wide = self.page.evaluate(FIRST % TOO_WIDE)
        if headings != 1:
            self.blame(label, f"{headings} h1")
        if not title:
            self.blame(label, "no title")
        if wide:
            self.blame(label, f"folded: {wide}")
        for size in (NARROW, DESK) if whole else (NARROW,):
            self.measure(label, size)
        self.blame(label, *self.page.evaluate(CALL_JUDGE))
        self.blame(label, *(one for one in self.page.complaints if POLICY not in one))
        news = set(self.page.evaluate(STANDS_IN)) - self.looked_at
        self.looked_at |= news
        if news and whole:
            self.ask_judge(label, "dark", ONLY_LOOKS)
        self.resize(NARROW)
        self.ask_judge(label, "light", EVERY_RULE if news else NO_LOOKS)

    def weigh(self, label: str) -> None:
        """Blame a page that asks for too much before it stands."""
        page, resources = self.page.evaluate(LOADED)
        size = page + AROUND
        for address, _kind, came in resources:
            packed = packed_size(address.removeprefix(self.home))
            size += AROUND + (came if packed is None else packed)
        most = HEAVIER.get(label.removeprefix("refused "), MOST_BYTES)
        asked = {address for address, kind, _came in resources if kind != "img"}
        requests = 1 + len(asked)
        if requests > MOST_REQUESTS or size > most:
            self.blame(label, f"{requests} requests, {size} bytes: {resources}")

    def ask_judge(self, label: str, scheme: str, rules: dict[str, Any]) -> None:
        self.page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        found = self.page.evaluate(JUDGE, rules)
        self.blame(label, *(f"{scheme}: {fault}" for fault in found))

    def measure(self, label: str, size: dict[str, int]) -> None:
        self.resize(size)
        if wide := self.page.evaluate(TOO_WIDE):
            self.blame(label, f"at {size['width']} px: {wide}")

    def resize(self, size: dict[str, int]) -> None:
        if self.page.viewport_size != size:
            self.page.set_viewport_size(size)
            self.page.evaluate(SETTLED, size)


@lru_cache
def packed_size(path: str) -> int | None:
    """Return what a static file weighs as production sends it; None for others."""
    name = path.removeprefix("/static/")
    if name == path:
        return None
    content = Path(finders.find(name)).read_bytes()
    return min(len(content), len(gzip.compress(content, 6)))


def needs(part: Path | None, what: str) -> None:
    """Skip without an outside judge; where all parts are promised, fail."""
    if part is not None and part.exists():
        return
    if os.environ.get("ORCHARD_ALL_PARTS"):
        pytest.fail(f"{what} is not installed.")
    pytest.skip(f"{what} is not installed.")


@pytest.fixture
def walk(browser, live_server, settings, tmp_path) -> Iterator[Walk]:
    needs(AXE, "axe-core")
    settings.ROOT_URLCONF = __name__
    with opened(browser, base_url=live_server.url, viewport=NARROW) as context:
        page = context.new_page()
        page.add_init_script(LISTEN)
        page.add_init_script(NO_WORKER)
        watch(page)
        kept = tmp_path / "pages"
        kept.mkdir()
        walk = Walk(page, kept, live_server.url)
        yield walk


def visits(letter: str, things: Any) -> Iterator[tuple[str, str]]:
    """List the pages of Alderbrook that one person may open."""
    for row in INSIDE:
        if row.get != NO and letter in row.get and row.name not in NO_PAGES:
            address = reverse(row.name, args=["alderbrook", *row.args(things)])
            yield row.label, address


def html_faults(kept: Path) -> Iterator[tuple[str, str]]:
    """Let the HTML checker read all pages at once; list page and fault."""
    done = subprocess.run(
        [*JAVA, "-jar", VNU, "--errors-only", "--format", "json", kept],
        capture_output=True,
        text=True,
        timeout=240,
    )
    for fault in json.loads(done.stderr)["messages"]:
        if "Attribute “hx-" in fault["message"]:
            # What htmx reads stands beside an ordinary address: see the house rules.
            continue
        where = f"line {fault.get('lastLine')}: {fault.get('extract', '')[:120]!r}"
        yield Path(fault["url"]).stem, f"HTML: {fault['message']} {where}"


def test_every_address_is_a_page_to_visit_or_said_to_be_none():
    visited = {row.name for row in INSIDE if row.get != NO}
    posts = {row.name for row in INSIDE if row.get == NO} | {
        name for name, (_args, statuses) in OPEN.items() if statuses["GET"][0] == 405
    }
    outside = {name for name, _label, _address in outside_pages()} | {"tag", "look"}
    known = visited | outside | {"visit"} | set(NO_PAGES) | posts
    assert sorted(set(addresses()) - known) == []
    assert sorted(set(NO_PAGES) - set(addresses())) == []


def outside_pages() -> list[tuple[str, str, str]]:
    """List the pages outside orchards that open in OPEN: name, who sees it, label."""
    return [
        (name, "somebody" if statuses["GET"] == (302, 200) else "nobody", name)
        for name, (_args, statuses) in OPEN.items()
        if (200 in statuses["GET"] or name in LEAD_ON) and name not in NO_PAGES
    ]


def test_pages_of_a_coordinator(walk, things):
    orchard = things.orchard
    bare = make_tree(orchard, "B-1")
    gone = make_tree(
        orchard,
        "B-2",
        state="removed",
        removed_on=bare.planted_on,
        removal_reason="The root rot took it",
    )
    signed_in(walk.page, things.people["C"])
    for label, address in visits("C", things):
        walk.see(label, address)
    form = reverse("inspection-new", args=["alderbrook", bare.code])
    walk.see("a tree without a story", reverse("tree-show", args=["alderbrook", "B-1"]))
    walk.see("a tree that is gone", f"/alderbrook/trees/{gone.code}/")
    walk.see("the form with signs", f"{form}?sign=sucker&sign=leafminer&sign=aphids")
    walk.see("a line open", "/alderbrook/board/?open=due-care-sucker_round&later=on")
    walk.see("a board without a fit", "/alderbrook/board/?block=B&late=on")
    walk.see("trees without a fit", "/alderbrook/trees/?word=nothing")
    walk.see("guide by word", "/alderbrook/guide/?word=leaf")
    walk.see("not there", "/alderbrook/trees/Z-99/", status=404)
    walk.see("look", "/look/")
    for name, who, _label in outside_pages():
        if who == "somebody":
            args, _statuses = OPEN[name]
            walk.see(name, reverse(name, args=args(things)))
    refused_pages(walk, things)
    check(walk)


def refused_pages(walk: Walk, things: Any) -> None:
    """Send each form of a coordinator empty: what is refused is a page too.

    It is the form's own page, judged whole already, with what is wrong.
    """
    client = Client()
    client.force_login(things.people["C"])
    for row in INSIDE:
        if row.post == NO or "C" not in row.post:
            continue
        address = reverse(row.name, args=["alderbrook", *row.args(things)])
        with transaction.atomic():
            answer = client.post(address, {})
            transaction.set_rollback(True)
        if answer.status_code == 422:
            number = len(refusals)
            refusals[number] = answer
            walk.see(
                f"refused {row.label}", f"/refusals/{number}/", status=422, whole=False
            )


def test_pages_of_a_volunteer(walk, things):
    names = {"home", "board", "tree-show", "inspection-show", "task-show", "guide-sign"}
    signed_in(walk.page, things.vera)
    for label, address in visits("V", things):
        if label in names:
            walk.see(f"{label} for a volunteer", address)
    walk.see("no door", "/alderbrook/people/", status=403)
    check(walk)


def test_pages_of_somebody_who_is_not_signed_in(walk, things):
    for name, who, label in outside_pages():
        if who == "nobody":
            args, _statuses = OPEN[name]
            walk.see(label, reverse(name, args=args(things)))
    walk.see("tag", reverse("tag", args=[things.tag.token]))
    Orchard.objects.update(public_page=True, visiting_words="On Saturdays from ten.")
    walk.see("visit", reverse("visit", args=["alderbrook"]))
    walk.see("unknown tag", reverse("tag", args=["u" * 22]), status=404)
    walk.see("nowhere", "/nowhere/at/all/", status=404)
    check(walk)


BROKEN = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title> </title>
</head><body><main><h1>One</h1><h1>Two</h1><input name="unnamed"><p id="a" id="b">
<font color="#bbbbbb">pale</font>
<pre style="color: red">%s</pre></main><script type="module">nowhere();</script>
<svg width="900" height="9" role="img" aria-label="wide"></svg>%s</body></html>"""
SHEETS = "".join(f'<link rel="stylesheet" href="/none/{n}.css">' for n in range(12))


def test_the_judges_find_what_is_wrong(walk):
    """A page with one fault of each sort: whoever finds none of them judges nothing."""
    headers = {
        "content-type": "text/html; charset=utf-8",
        "content-security-policy": "style-src 'self'",
    }
    walk.page.route(
        "**/broken/",
        lambda route: route.fulfill(body=BROKEN % ("x" * 400, SHEETS), headers=headers),
    )
    walk.see("broken", "/broken/", status=418)
    walk.blame("broken", *(fault for _page, fault in html_faults(walk.kept)))
    told = "\n".join(walk.faults["broken"])
    for fault in (
        "answers 200 instead of 418",
        "13 requests, ",
        "2 h1",
        "no title",
        "at 320 px: ",
        "at 1280 px: ",
        "style-src-attr: inline",
        "nowhere is not defined",
        "light: ",
        "dark: ",
        "label: <input",
        "HTML: Duplicate attribute",
    ):
        assert fault in told, (fault, told)


def check(walk: Walk) -> None:
    """Ask the HTML checker too, then tell all faults at once."""
    java = shutil.which("java")
    needs(Path(java) if java else None, "Java")
    needs(VNU, "The HTML checker")
    for page, fault in html_faults(walk.kept):
        walk.blame(page, fault)
    told = "\n".join(
        f"{page}\n  " + "\n  ".join(faults) for page, faults in walk.faults.items()
    )
    assert not walk.faults, f"{walk.pages} pages seen.\n{told}"

"""Every page of a running demonstration, photographed narrow, on a phone and wide.

    sh deploy/try                                        in another window
    python -m tests.contact_sheet FOLDER                 the coordinator's pages
    python -m tests.contact_sheet FOLDER --role volunteer --site http://127.0.0.1:8123

Pages are found by the links on them, one for each name of an address, so that a new
page comes along by itself. `FOLDER/index.html` shows them side by side; what the
browser complains of, and what is wider than its screen, stands above its pictures.
"""

from __future__ import annotations

import argparse
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
django.setup()

from django.urls import Resolver404, resolve  # noqa: E402
from playwright.sync_api import Error, Page, sync_playwright  # noqa: E402

from orchard.demonstration.cast import FIRST, PASSWORD  # noqa: E402
from tests.flows.conftest import CHROMIUM, DESK, FLAGS, NARROW, PHONE  # noqa: E402

SLUG = "old-cistern"
SIZES = (NARROW, PHONE, DESK)
SIGNED_OUT = ("/sign-in/", "/password/forgotten/", "/nowhere/")
# They lead away, or answer with a file.
NO_PAGES = {"sign-out", "start", "photo-file", "manifest", "worker"}
LINKS = """() => [...document.querySelectorAll('a[href]')].map((one) =>
  new URL(one.getAttribute('href'), location.href).href)"""
TOO_WIDE = """() => {
  const room = document.documentElement.clientWidth;
  const wide = [...document.querySelectorAll("body *")].filter((one) =>
    one.getBoundingClientRect().right > room + 1 && !one.closest(".wide-table"));
  return document.documentElement.scrollWidth > room
    ? `wider than ${room} px: ${wide.at(-1)?.outerHTML.slice(0, 120)}` : "";
}"""
# What a box cuts off, though nobody asked it to.
CUT_OFF = """() => [...document.querySelectorAll("main *")].filter((one) => {
  const look = getComputedStyle(one);
  return look.overflowX === "visible" && look.display !== "inline"
    && one.scrollWidth > one.clientWidth + 2 && one.clientWidth > 0
    && one.getBoundingClientRect().height > 1
    && !one.closest("svg, .wide-table, .out-of-sight, thead")
    && !one.querySelector(":scope > .out-of-sight");
}).slice(0, 3).map((one) => `text leaves its box: ${one.outerHTML.slice(0, 100)}`)"""
# Nor may a bar that follows the screen lie over what is photographed whole.
LET_GO = """() => {
  for (const one of document.querySelectorAll("body *")) {
    if (getComputedStyle(one).position === "sticky") one.style.position = "static";
  }
}"""
STYLE = """body { font: 15px sans-serif; margin: 1rem; background: #ddd; }
section { background: #fff; padding: 1rem; margin: 0 0 1rem; }
div { display: flex; gap: 1rem; align-items: start; overflow-x: auto; }
img { border: 1px solid #999; max-width: none; height: auto; }"""


@dataclass
class Sheet:
    """One page: where it was found, its pictures, and what is wrong with it."""

    name: str
    address: str
    pictures: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    screens: list[str] = field(default_factory=list)


def sign_in_as(page: Page, site: str, role: str) -> str:
    """Sign in as somebody of the first orchard; return the address of its home."""
    someone = next(one for one in FIRST if one.role == role)
    page.goto(f"{site}/sign-in/")
    page.fill("input[name=email]", someone.email)
    page.fill("input[name=password]", PASSWORD)
    page.press("input[name=password]", "Enter")
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    # Whoever runs both orchards, and whoever is new, is led elsewhere first.
    return f"{site}/{SLUG}/"


def name_of(address: str) -> str:
    """Return the name of an address, "" where it is none of ours to look at."""
    try:
        name = resolve(urlsplit(address).path).url_name or ""
    except Resolver404:
        return ""
    return "" if name in NO_PAGES or "admin" in address else name


def photograph(page: Page, sheet: Sheet, folder: Path) -> None:
    """Take the open page at each size, whole, and note what does not fit."""
    for size in SIZES:
        width = size["width"]
        page.set_viewport_size(size)
        page.wait_for_timeout(150)
        for found in (page.evaluate(TOO_WIDE), *page.evaluate(CUT_OFF)):
            if found:
                sheet.faults.append(f"{width} px: {found}")
        height = page.evaluate("document.documentElement.scrollHeight")
        sheet.screens.append(f"{height / size['height']:.1f} at {width}")
        page.evaluate(LET_GO)
        picture = f"{sheet.name}-{width}.png"
        page.screenshot(path=folder / picture, full_page=True)
        sheet.pictures.append(picture)


def walk(page: Page, first: str, folder: Path, most: int) -> Iterator[Sheet]:
    """Open page after page by the links on them, the first of each name."""
    waiting, seen = [first], set()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console",
        lambda line: complaints.append(line.text) if line.type == "error" else None,
    )
    while waiting and len(seen) < most:
        address = waiting.pop(0)
        name = name_of(address)
        if not name or name in seen:
            continue
        seen.add(name)
        complaints.clear()
        try:
            answer = page.goto(address)
        except Error:
            # A file to keep.
            continue
        if answer is None or "text/html" not in answer.headers.get("content-type", ""):
            continue
        sheet = Sheet(name, address)
        photograph(page, sheet, folder)
        if answer.status != 200:
            sheet.faults.append(f"answers {answer.status}")
        sheet.faults += complaints
        waiting += [
            urljoin(address, link)
            for link in page.evaluate(LINKS)
            if urlsplit(link).netloc == urlsplit(first).netloc
        ]
        yield sheet


def write(folder: Path, sheets: list[Sheet]) -> None:
    """Write the page that shows all pictures side by side."""
    parts = [f"<!doctype html><meta charset='utf-8'><style>{STYLE}</style>"]
    for sheet in sheets:
        faults = "".join(f"<li>{escape(fault)}" for fault in sheet.faults)
        images = "".join(
            f"<img src='{picture}' loading='lazy' alt='{picture}'>"
            for picture in sheet.pictures
        )
        parts.append(
            f"<section><h2>{escape(sheet.name)}</h2><p>{escape(sheet.address)}: "
            f"{', '.join(sheet.screens)} screens<ul>{faults}</ul>"
            f"<div>{images}</div></section>"
        )
    (folder / "index.html").write_text("\n".join(parts), encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.contact_sheet")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--site", default="http://127.0.0.1:8000")
    parser.add_argument("--role", default="coordinator")
    parser.add_argument("--most", type=int, default=200, help="most pages to open")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        context = browser.new_context(service_workers="block")
        page = context.new_page()
        sheets = []
        for path in SIGNED_OUT:
            page.goto(asked.site + path)
            sheets.append(Sheet(re.sub(r"\W+", "-", path).strip("-"), path))
            photograph(page, sheets[-1], asked.folder)
        home = sign_in_as(page, asked.site, asked.role)
        sheets += walk(page, home, asked.folder, asked.most)
        context.close()
        browser.close()
    write(asked.folder, sheets)
    for sheet in sheets:
        print(f"{sheet.name:24} {', '.join(sheet.screens)}")
        for fault in sheet.faults:
            print(f"    {fault}")


if __name__ == "__main__":
    main()

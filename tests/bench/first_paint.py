"""How soon a page is seen on a weak line by a slow phone, and what each page carries.

    sh deploy/try                                        in another window
    python -m tests.bench.first_paint [--site http://127.0.0.1:8000]

Every page is opened with nothing kept from before, at 1.6 Mbit/s and 150 ms for each
request, by a processor slowed down four times. The first paint is the middle one of
three. Promise: within 0.8 s, and nothing else wrong with what comes.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
from dataclasses import dataclass, field
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
django.setup()

from playwright.sync_api import Browser, sync_playwright  # noqa: E402

from tests.contact_sheet import sign_in_as  # noqa: E402
from tests.flows.conftest import CHROMIUM, FLAGS, PHONE  # noqa: E402

PAGES = (
    "",
    "board/",
    "trees/",
    "trees/A-01/",
    "trees/A-01/inspections/new/",
    "rounds/",
    "guide/",
    "guide/sucker/",
    "outlook/",
    "photos/",
)
PROMISED_SECONDS, SLOWER, RUNS = 0.8, 4, 3
LINE = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 1_600_000 / 8,
    "uploadThroughput": 750_000 / 8,
}
SEEN = """() => {
  const [paint] = performance.getEntriesByName("first-contentful-paint");
  const [page] = performance.getEntriesByType("navigation");
  const images = [...document.images].filter((one) => one.src);
  return {
    answer: page.responseStart / 1000,
    paint: paint ? paint.startTime / 1000 : NaN,
    described: !!document.querySelector('meta[name=description]')?.content.trim(),
    lang: document.documentElement.lang,
    sizeless: images.filter((one) => !one.hasAttribute("width")).length,
  };
}"""
# What a server packs before it sends it.
TEXT = ("text/", "javascript", "json", "svg")


@dataclass
class Arrival:
    """What came over the line for one page."""

    requests: int = 0
    bytes: int = 0
    faults: list[str] = field(default_factory=list)

    def answered(self, event: dict[str, Any]) -> None:
        """Note how a text is packed, and how long a file may be kept."""
        response = event["response"]
        headers = {name.lower(): one for name, one in response["headers"].items()}
        kind, size = headers.get("content-type", ""), headers.get("content-length", "0")
        name = response["url"].partition("://")[2].partition("/")[2][:50]
        is_text = any(part in kind for part in TEXT)
        if is_text and int(size) > 1000 and "content-encoding" not in headers:
            self.faults.append(f"not packed: {name}")
        if "/static/" in response["url"] and "immutable" not in headers.get(
            "cache-control", ""
        ):
            self.faults.append(f"not kept: {name}")

    def finished(self, event: dict[str, Any]) -> None:
        """Count what came, with its headers."""
        self.requests += 1
        self.bytes += round(event["encodedDataLength"])


def measure(browser: Browser, state: Any, address: str) -> tuple[Arrival, dict]:
    """Open a page with nothing kept, on the weak line, and say what was seen."""
    context = browser.new_context(
        storage_state=state,
        viewport=PHONE,
        is_mobile=True,
        has_touch=True,
        service_workers="block",
    )
    page = context.new_page()
    arrival = Arrival()
    session = context.new_cdp_session(page)
    session.on("Network.responseReceived", arrival.answered)
    session.on("Network.loadingFinished", arrival.finished)
    session.send("Network.enable")
    session.send("Network.setCacheDisabled", {"cacheDisabled": True})
    session.send("Network.emulateNetworkConditions", LINE)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.on(
        "console",
        lambda line: (
            arrival.faults.append(line.text[:60]) if line.type == "error" else None
        ),
    )
    page.goto(address, wait_until="load")
    page.wait_for_timeout(300)
    seen = page.evaluate(SEEN)
    context.close()
    return arrival, seen


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.first_paint")
    parser.add_argument("--site", default="http://127.0.0.1:8000")
    parser.add_argument("--role", default="coordinator")
    asked = parser.parse_args()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        context = browser.new_context(service_workers="block")
        page = context.new_page()
        home = sign_in_as(page, asked.site, asked.role)
        state = context.storage_state()
        context.close()
        worst = 0
        print(
            f"{'page':28} {'answer s':>8} {'paint s':>8} {'requests':>8}    kB  faults"
        )
        for path in PAGES:
            runs = [measure(browser, state, home + path) for _run in range(RUNS)]
            arrival, seen = runs[-1]
            answer, paint = (
                statistics.median(one[name] for _arrival, one in runs)
                for name in ("answer", "paint")
            )
            faults = list(dict.fromkeys(arrival.faults))
            if paint > PROMISED_SECONDS:
                faults.append(f"paint later than {PROMISED_SECONDS} s")
            if not seen["described"]:
                faults.append("no description")
            if not seen["lang"]:
                faults.append("no language")
            if seen["sizeless"]:
                faults.append(f"{seen['sizeless']} pictures without a size")
            print(
                f"{path or 'home':28} {answer:8.2f} {paint:8.2f} {arrival.requests:8}"
                f" {arrival.bytes / 1000:5.0f}  {'; '.join(faults) or 'ok'}"
            )
            worst = max(worst, int(bool(faults)))
        browser.close()
    return worst


if __name__ == "__main__":
    sys.exit(main())

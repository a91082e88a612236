"""A phone without Chromium, driven by the engine's own driver; it may be killed."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from ctypes.util import find_library
from pathlib import Path
from time import sleep
from typing import Any

from selenium import webdriver
from selenium.common.exceptions import (
    ElementClickInterceptedException,
    ElementNotInteractableException,
    StaleElementReferenceException,
    TimeoutException,
    WebDriverException,
)
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait
from selenium.webdriver.webkitgtk.options import Options
from selenium.webdriver.webkitgtk.service import Service

from tests.faults.afield import ENTRIES
from tests.faults.server import ROOT

PATIENCE = 60
# Seconds in which a page shows what was pressed, and in which a press arrives.
SLOW_PAGE = 3
TURN = 0.15
MOST_SHOWN = 800
# What is asked for by name and path is not looked for anywhere else, nor counted.
ALONE = {"SE_OFFLINE": "true", "SE_AVOID_STATS": "true"}
BYTES = """() => new Promise((done, failed) => {
  const opening = indexedDB.open("orchard-outbox");
  opening.onerror = failed;
  opening.onsuccess = () => {
    const base = opening.result;
    const asked = base.transaction("bytes").objectStore("bytes").getAll();
    asked.onsuccess = () => {
      base.close();
      done(asked.result.map((one) => [
        one instanceof ArrayBuffer,
        ...new Uint8Array(one.byteLength ? one : 0).slice(0, 3),
      ]));
    };
    asked.onerror = failed;
  };
})"""
CLOCK = """
  const at = arguments[0];
  const Own = Date;
  window.Date = class extends Own {
    constructor(...said) { said.length ? super(...said) : super(at); }
    static now() { return at; }
  };
"""


def lacking() -> str:
    """Name what this machine lacks to play such a phone, or nothing."""
    commands = [one for one in ("WebKitWebDriver", "Xvfb") if not shutil.which(one)]
    if not find_library("webkit2gtk-4.1"):
        commands.append("libwebkit2gtk-4.1")
    return ", ".join(commands)


@contextmanager
def a_screen() -> Iterator[str]:
    """Give a screen that nobody looks at, and its name."""
    reading, writing = os.pipe()
    command = ["Xvfb", "-displayfd", str(writing), "-screen", "0", "800x1000x24"]
    screen = subprocess.Popen(
        [*command, "-nolisten", "tcp"],
        pass_fds=[writing],
        stderr=subprocess.DEVNULL,
    )
    os.close(writing)
    try:
        with os.fdopen(reading) as said:
            number = said.readline().strip()
        assert number, "there is no screen"
        yield f":{number}"
    finally:
        screen.terminate()
        screen.wait(10)


class Phone:
    """A browser of the second engine; with a folder it finds again what it kept."""

    def __init__(self, folder: Path, screen: str, address: str, *, private=False):
        self.address = address
        self.around = {**os.environ, **ALONE, "DISPLAY": screen, "TMPDIR": str(folder)}
        # The driver knows programs only, no words after them.
        self.program = folder / "open"
        words = [sys.executable, "-m", "tests.webkit.browser"]
        words += [] if private else [str(folder)]
        self.program.write_text(f"#!/bin/sh\ncd '{ROOT}'\nexec {' '.join(words)}\n")
        self.program.chmod(0o755)
        self.driver: webdriver.WebKitGTK | None = None

    def open(self) -> None:
        options = Options()
        options.binary_location = str(self.program)
        service = Service(
            shutil.which("WebKitWebDriver"),
            env=self.around,
            popen_kw={"start_new_session": True},
        )
        with warnings.catch_warnings():
            # The package calls a way of its own that it means to give up.
            warnings.simplefilter("ignore", DeprecationWarning)
            self.driver = webdriver.WebKitGTK(options=options, service=service)
        self.driver.set_script_timeout(PATIENCE)
        self.group = self.driver.service.process.pid

    def close(self) -> None:
        """End the browser as a person does."""
        if self.driver is not None:
            with suppress(WebDriverException):
                self.driver.quit()
            self.kill()

    def kill(self) -> None:
        """Kill window, pages and the keeper of their stores, all at once."""
        with suppress(ProcessLookupError):
            os.killpg(self.group, signal.SIGKILL)
        if self.driver is not None:
            self.driver.service.process.wait(10)
        self.driver = None

    def go(self, path: str) -> None:
        self.driver.get(self.address + path)

    def path(self) -> str:
        return self.driver.current_url.removeprefix(self.address)

    def run(self, function: str, *values: Any) -> Any:
        """Run a function in the page that promises its answer."""
        asks = (
            "const done = arguments[arguments.length - 1];"
            f"({function})(...[...arguments].slice(0, -1))"
            ".then((said) => done([said]), (fault) => done(String(fault)));"
        )
        said = self.driver.execute_async_script(asks, *values)
        assert isinstance(said, list), said
        return said[0]

    def entries(self) -> list[dict]:
        return self.run(ENTRIES)

    def kept_bytes(self) -> list[list]:
        """Return for each photo whether it lies there as bytes, and its first three."""
        return self.run(BYTES)

    def set_clock(self, milliseconds: float) -> None:
        self.driver.execute_script(CLOCK, milliseconds)

    def until(self, holds: Callable[[], Any], *, seconds: float = PATIENCE) -> Any:
        """Wait until something holds of the page, which may change meanwhile."""
        wait = WebDriverWait(
            self.driver,
            seconds,
            poll_frequency=0.05,
            ignored_exceptions=[StaleElementReferenceException],
        )
        try:
            return wait.until(lambda _driver: holds())
        except TimeoutException as late:
            body = self.find("body")
            shown = (body.text if body else "") or self.driver.page_source
            raise AssertionError(
                f"not within {seconds} s on {self.driver.current_url}, which shows: "
                f"{shown[:MOST_SHOWN]}"
            ) from late

    def find(self, selector: str) -> Any:
        found = self.driver.find_elements(By.CSS_SELECTOR, selector)
        return found[0] if found else None

    def says(self, selector: str, words: str, *, seconds: float = PATIENCE) -> None:
        """Wait until a part of the page says these words."""
        self.until(lambda: words in (self._text(selector) or ""), seconds=seconds)

    def _text(self, selector: str) -> str | None:
        one = self.find(selector)
        return None if one is None or not one.is_displayed() else one.text

    def press(self, selector: str) -> None:
        """Bring something to the middle of the screen, once it is there, and press."""
        self.until(lambda: self._pressed(selector))

    def _pressed(self, selector: str) -> bool:
        one = self.find(selector)
        if one is None or not one.is_displayed():
            return False
        self.driver.execute_script(
            "arguments[0].scrollIntoView({ block: 'center', behavior: 'instant' })",
            one,
        )
        try:
            one.click()
        except (ElementClickInterceptedException, ElementNotInteractableException):
            # The page still moves under the finger: nothing was pressed.
            return False
        return True

    def tap(self, name: str, value: str) -> None:
        """Press the tile of an answer: what a finger meets, not the field in it."""
        field = f'input[name="{name}"][value="{value}"]'
        self._press_until(f"label.tile:has({field})", f"{field}:checked")

    def unfold(self, inside: str) -> None:
        """Open the fold that something lies in."""
        fold = f"details:has({inside})"
        self._press_until(f"{fold} > summary", f"{fold}[open]")

    def _press_until(self, selector: str, done: str) -> None:
        """Press until it shows; what comes in above moves the rest, and one may miss.

        A slow page shows it late: a second press too soon would take the first back.
        """

        def shows() -> bool:
            return self.find(done) is not None

        def pressed() -> bool:
            if not shows() and self._pressed(selector):
                with suppress(TimeoutException):
                    WebDriverWait(self.driver, SLOW_PAGE, poll_frequency=0.05).until(
                        lambda _driver: shows()
                    )
            # A press on its way would have arrived by now, and turned it over.
            sleep(TURN)
            return shows()

        self.until(pressed)

    def write(self, selector: str, text: str) -> None:
        self.until(lambda: self.find(selector)).send_keys(text)

    def choose(self, selector: str, photos: Sequence[Path]) -> None:
        self.until(lambda: self.find(selector)).send_keys("\n".join(map(str, photos)))

    def sign_in(self, email: str, password: str) -> None:
        self.go("/sign-in/")
        self.write("input[name=email]", email)
        self.write("input[name=password]", password)
        self.press("form button.primary, form button[type=submit], form button")
        self.until(lambda: "/sign-in/" not in self.driver.current_url)

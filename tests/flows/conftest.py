"""A real browser: Chromium from the system, at phone and at desk size."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

# Playwright runs an event loop in this thread; the test's own queries are safe.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
QUALITY = Path(__file__).resolve().parent.parent / "quality" / "node_modules"

PHONE = {"width": 390, "height": 844}
NARROW = {"width": 320, "height": 640}
DESK = {"width": 1280, "height": 900}


def pytest_collection_modifyitems(items):
    for item in items:
        if "/flows/" in str(item.path):
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.django_db(transaction=True))


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    if CHROMIUM is None:
        if os.environ.get("ORCHARD_ALL_PARTS"):
            pytest.fail("Chromium is not installed.")
        pytest.skip("Chromium is not installed.")
    return {**browser_type_launch_args, "executable_path": CHROMIUM, "args": FLAGS}


@pytest.fixture
def phone(browser, live_server):
    """A phone in somebody's hand, with touch."""
    context = browser.new_context(
        base_url=live_server.url,
        viewport=PHONE,
        has_touch=True,
        is_mobile=True,
        device_scale_factor=2,
    )
    page = context.new_page()
    watch(page)
    yield page
    context.close()
    assert not page.complaints, page.complaints


@pytest.fixture
def desk(browser, live_server):
    """A screen on a desk."""
    context = browser.new_context(base_url=live_server.url, viewport=DESK)
    page = context.new_page()
    watch(page)
    yield page
    context.close()
    assert not page.complaints, page.complaints


def watch(page) -> None:
    """Note every complaint of the browser: script errors and refused policies."""
    page.complaints = []
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on(
        "console",
        lambda line: (
            page.complaints.append(line.text)
            if line.type == "error" and "status of 4" not in line.text
            else None
        ),
    )


def sign_in(page, user, password) -> None:
    """Sign in by the form, as a person does."""
    page.goto("/sign-in/")
    page.fill("input[name=email]", user.email)
    page.fill("input[name=password]", password)
    page.press("input[name=password]", "Enter")
    page.wait_for_load_state()

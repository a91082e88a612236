"""Contrast of what the tokens mean, by the formula of the WCAG 2.2 recommendation.

Source: W3C, Web Content Accessibility Guidelines 2.2, definitions of "relative
luminance" and "contrast ratio" (from memory). The formula is held against the two
values that need no table: black on white is 21, a colour on itself is 1.
"""

from __future__ import annotations

import re

import pytest
from django.conf import settings

CSS = settings.BASE_DIR / "static" / "css"
BODY_TEXT = 7.0
OTHER_TEXT = 4.5
EDGES = 3.0

# What is written or drawn on what, and how well it must be seen.
PAIRS = [
    ("--text", "--page", BODY_TEXT),
    ("--text", "--sheet", BODY_TEXT),
    ("--text", "--wash", BODY_TEXT),
    ("--text", "--accent-wash", BODY_TEXT),
    ("--text-soft", "--page", BODY_TEXT),
    ("--text-soft", "--sheet", BODY_TEXT),
    ("--text-soft", "--wash", BODY_TEXT),
    ("--text-soft", "--accent-wash", BODY_TEXT),
    ("--on-ink", "--text", BODY_TEXT),
    ("--on-accent", "--accent", BODY_TEXT),
    ("--edge", "--page", EDGES),
    ("--edge", "--sheet", EDGES),
]


def luminance(colour: str) -> float:
    digits = colour.removeprefix("#")
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    channels = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    linear = [
        channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4
        for channel in channels
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def declared(css: str) -> dict[str, str]:
    return dict(re.findall(r"(--[\w-]+):\s*([^;]+);", css))


def palettes() -> dict[str, dict[str, str]]:
    tokens = (CSS / "tokens.css").read_text()
    dark = re.search(r"prefers-color-scheme: dark\) \{(.*?\n  \})\n\}", tokens, re.S)
    assert dark, "the dark tokens were not found"
    light = declared(tokens.replace(dark.group(0), ""))
    paper = declared((CSS / "print.css").read_text())
    return {
        "light": light,
        "dark": light | declared(dark.group(1)),
        "print": light | paper,
    }


def colour(tokens: dict[str, str], name: str) -> str:
    value = tokens[name]
    while match := re.fullmatch(r"var\((--[\w-]+)\)", value):
        value = tokens[match.group(1)]
    assert re.fullmatch(r"#[0-9a-f]{3}([0-9a-f]{3})?", value), f"{name} is {value}"
    return value


def test_the_formula_meets_its_fixed_points():
    assert contrast("#000", "#fff") == pytest.approx(21.0)
    assert contrast("#6a7566", "#6a7566") == 1.0


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
@pytest.mark.parametrize(("front", "ground", "least"), PAIRS)
def test_what_is_written_can_be_read(scheme, front, ground, least):
    tokens = palettes()[scheme]
    seen = contrast(colour(tokens, front), colour(tokens, ground))
    assert seen >= least, f"{front} on {ground} in {scheme}: {seen:.2f}"


def test_the_dark_page_changes_every_raw_colour_but_the_ink_on_the_accent():
    light, dark = palettes()["light"], palettes()["dark"]
    raw = [name for name in light if name.startswith("--raw-")]
    assert len(raw) >= 10
    same = [name for name in raw if light[name] == dark[name]]
    assert same == ["--raw-on-rind"]


def test_no_other_file_names_a_colour():
    """A colour outside the tokens would escape the dark page and this test.

    A talk that is played from a disk carries its own: it is one file, and light.
    """
    for path in CSS.rglob("*.css"):
        if path.name in ("tokens.css", "print.css", "player.css"):
            continue
        found = re.findall(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(|\bhsla?\(", path.read_text())
        assert not found, f"{path.name} names {found}"

"""The files by which a phone finds signs by word and asks about them, offline too."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django.conf import settings

from orchard.science import guide, verdict
from orchard.science.units import in_text

FOLDER = settings.BASE_DIR / "static/js/inspections"
SIGN_WORDS_FILE = FOLDER / "sign_words.js"
SIGN_TEXTS_FILE = FOLDER / "sign_texts.js"
HEAD = "// Written by `python manage.py write_sign_files` from the guide.\n"


def sign_words_text() -> str:
    """Return the text of the file of words: the index of the guide as a module."""
    index = guide.search_index(guide.load().signs.values())
    signs = index.pop("signs")
    return HEAD + _constant("settings", index) + _constant("signs", signs)


def sign_texts_text() -> str:
    """Return the text of the file of questions: what is asked, in words, as a module.

    Signs are there only with what they ask otherwise than the fact itself does, and US
    units only where a question speaks of units.
    """
    rows = guide.load()
    facts = {key: fact.ask for key, fact in rows.facts.items() if fact.ask}
    signs = {
        f"{sign.key}:{key}": text
        for sign in rows.signs.values()
        for key in rows.facts
        if (text := verdict.question_about(rows, sign, key)) != facts.get(key, "")
    }
    texts = [*facts.values(), *signs.values()]
    us = {
        text: converted for text in texts if (converted := in_text(text, "us")) != text
    }
    named = {"facts": facts, "signs": signs, "us": us}
    return HEAD + "".join(_constant(name, rows) for name, rows in named.items())


def _constant(name: str, rows: Mapping[str, Any]) -> str:
    lines = [f"  {json.dumps(key)}: {json.dumps(row)},\n" for key, row in rows.items()]
    return f"export const {name} = {{\n{''.join(lines)}}};\n"

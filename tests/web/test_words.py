"""The words of the screens: the product's own, and no worn phrase that came back."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
TEMPLATE_TEXT = re.compile(
    r'{% translate "((?:[^"\\]|\\.)*)"'
    r"|{% translate '([^']*)'"
    r"|{% blocktranslate[^%]*%}(.*?){% endblocktranslate %}"
    r'|_\("([^"]*)"\)',
    re.DOTALL,
)
SCRIPT_TEXT = re.compile(r'gettext\(\s*"([^"]*)"(?:,\s*"([^"]*)")?', re.DOTALL)
TRANSLATING = {"_", "gettext", "gettext_lazy", "ngettext", "pgettext"}
# What the guide and the explained formulas say; the rest of a row is for programs.
SAID = {
    "name", "look_for", "why", "ask", "asks", "do", "do_not", "caution", "because",
    "means", "tell", "title", "what", "words", "no_words", "applies_words", "evidence",
    "tools", "opt_in", "question", "answer", "note", "photos", "from",
}  # fmt: skip

# The product's words as a screen writes them.
WORDS = (
    "orchard",
    "block",
    "spot",
    "tree",
    "tag",
    "round",
    "inspection",
    "sign",
    "finding",
    "verdict",
    "guide",
    "house rule",
    "second look",
    "task",
    "care plan",
    "harvest hold",
    "condition",
    "case",
    "outbox",
)
# Another word for the same thing, and the word that is used instead.
SYNONYMS = {
    r"to-?dos?": "task",
    r"chores?": "task",
    r"assignments?": "task",
    r"pieces? of work": "task",
    r"check-?ups?": "inspection",
    r"second opinions?": "second look",
    r"diagnos\w+": "verdict",
    r"maintenance plan": "care plan",
    r"withholding period": "harvest hold",
    r"pre-harvest interval": "harvest hold",
    r"incidents?": "case",
    r"sync\w*": "outbox",
    r"upload queue": "outbox",
    r"plots?": "block",
    r"walking tour": "round",
    r"species of tree": "kind",
}
# Phrases that read as if translated, or that a machine says of itself.
WORN = (
    r"please\b(?! leave the picking)",
    r"successfully",
    r"oops",
    r"[^.]!",
    r"what waits",
    r"in your hands",
    r"i take it",
    r"falls? away",
    r"will not do\b",
    r"lies in the future",
    r"lies ahead",
    r"is still to come",
    r"belongs? to this orchard no more",
    r"the air took",
    r"if you like",
    r"somebody else shall",
    r"parted by",
    r"drawn? with ease",
    r"look twice",
    r"what we saw, what it calls for",
    r"taken in again|was taken in|be taken in\b(?! the)",
    r"mend (it|the|that|your)\b",
    r"put the book|the book itself|open the book|in the book\b",
    r"holds from",
    r"no day is told",
    r"hunger\b",
    r"helpers?\b",
    r"hunters\b",
    r"small wasps",
    r"broad (?:insecticide|spray)",
    r"set the hold",
    r"authority hears",
    r"at home here",
    r"tonics?\b",
    r"cooks by day",
    r"in good heart",
    r"is history\b",
    r"at a suspicion",
    r"(?:counts|read|begins?|reach|is told|are told) so (?:long|far|lately)",
    r"told from heat",
    r"com(?:e|es|ing) ripe",
    r"mind the knife",
    r"takes no inspections",
    r"is no (?:number|date|year|size|phone|folder|member|region|such)",
    r"which cannot be\b",
    r"look whether",
    r"only who\b",
    r"practised eye",
    r"pair of eyes",
    r"as the guide has it",
    r"taken in whole",
    r"bring(?:s)? (?:its|their) .* along",
    r"it is kept\.|kept as you wrote",
    r"end of season month",
    r"cannot\b",
)
# A deed has one label; what it is called elsewhere, and the label that is used.
LABELS = {
    r"tak(?:e|es|ing) (?:it|this|them) back\b": "Withdraw",
    r"(?:taken|took|take) back\b": "Withdraw",
    r"withdraw (?:it|this)$": "Withdraw",
    r"hand(?:ed|s|ing)? (?:it |them |this )?over\b": "Assign",
    r"hand it out\b": "Assign",
    r"assign (?:it|this)$": "Assign",
}

# The guide speaks as one speaks at the tree.
STIFF = (r"cannot\b", r"do(?:es)? not\b", r"did not\b", r"will not\b")


def texts_of_template(text: str) -> Iterator[str]:
    for found in TEMPLATE_TEXT.finditer(text):
        yield " ".join(
            next(part for part in found.groups() if part is not None).split()
        )


def texts_of_code(text: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(text)):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if name in TRANSLATING:
            for part in node.args:
                if isinstance(part, ast.Constant) and isinstance(part.value, str):
                    yield part.value


def texts_of_script(text: str) -> Iterator[str]:
    for found in SCRIPT_TEXT.finditer(text):
        yield from (part for part in found.groups() if part)


def texts_of_rows(text: str) -> Iterator[str]:
    def said(value: object, key: str = "") -> Iterator[str]:
        if isinstance(value, dict):
            for name, part in value.items():
                yield from said(part, key if key == "asks" else name)
        elif isinstance(value, list):
            for part in value:
                yield from said(part, key)
        elif isinstance(value, str) and key in SAID:
            yield value

    yield from said(tomllib.loads(text))


def texts_of_sentences(text: str) -> Iterator[str]:
    """Give the strings of code whose texts go to the screen as they are."""
    tree = ast.parse(text)
    docstrings = {
        id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and id(node) not in docstrings:
            text = node.value if isinstance(node.value, str) else ""
            if " " in text.strip():
                yield text


READERS = (
    ("templates", (".html", ".txt"), texts_of_template),
    ("orchard", (".py",), texts_of_code),
    ("orchard", (".toml",), texts_of_rows),
    ("orchard/science/frost", (".py",), texts_of_sentences),
    ("orchard/science/verdict", (".py",), texts_of_sentences),
    ("orchard/science/windows", (".py",), texts_of_sentences),
    ("orchard/web/management", (".py",), texts_of_sentences),
    ("static/js", (".js",), texts_of_script),
)


@lru_cache(maxsize=1)
def all_texts() -> tuple[tuple[str, str], ...]:
    """Return every text that a person can read, with its file."""
    return tuple(
        (path.relative_to(ROOT).as_posix(), text)
        for folder, endings, read in READERS
        for path in sorted((ROOT / folder).rglob("*"))
        # The titles of sources are their authors' words.
        if path.suffix in endings and path.name != "sources.toml"
        for text in read(path.read_text(encoding="utf-8"))
    )


def matches(patterns: tuple[str, ...], text: str) -> list[str]:
    return [
        pattern
        for pattern in patterns
        if re.search(rf"(?<!\w)(?:{pattern})", text, re.IGNORECASE)
    ]


def synonyms_in(text: str) -> list[str]:
    whole_words = tuple(rf"{pattern}\b" for pattern in SYNONYMS)
    return matches(whole_words, text)


def other_labels_in(text: str) -> list[str]:
    return matches(tuple(LABELS), text)


def test_every_text_is_read():
    files = {file.partition("/")[0] for file, _text in all_texts()}
    assert files == {"templates", "orchard", "static"}
    assert len(all_texts()) > 6000


def test_no_worn_phrase_comes_back():
    found = [f"{file}: {text}" for file, text in all_texts() if matches(WORN, text)]
    assert not found


def test_the_guide_is_not_stiff():
    guide = [text for file, text in all_texts() if file.endswith(".toml")]
    assert len(guide) > 3000
    assert not [text for text in guide if matches(STIFF, text)]


def test_one_deed_has_one_label():
    # What the records call a deed is on no screen: the ledger has words of its own.
    shown = [one for one in all_texts() if not one[0].startswith("orchard/records/")]
    found = [f"{file}: {text}" for file, text in shown if other_labels_in(text)]
    assert not found


def test_one_thing_has_one_word():
    found = [f"{file}: {text}" for file, text in all_texts() if synonyms_in(text)]
    assert not found


@pytest.mark.parametrize("word", WORDS)
def test_the_words_of_the_product_are_on_its_screens(word):
    used = re.compile(rf"\b{word}(?:s|es)?\b", re.IGNORECASE)
    assert any(used.search(text) for _file, text in all_texts())


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (texts_of_template, '{% translate "Its work falls away." %}'),
        (
            texts_of_template,
            "{% blocktranslate %}Saved\n successfully.{% endblocktranslate %}",
        ),
        (texts_of_template, '{% include "x.html" with label=_("What waits") %}'),
        (texts_of_code, 'x = _("“%(a)s” will not do for " "it.") % {"a": 1}'),
        (texts_of_code, 'ngettext("one", "%(n)d still to come: is still to come", 2)'),
        (texts_of_script, 'gettext("Mend it here.")'),
        (texts_of_code, '_("It cannot be read.")'),
        (texts_of_rows, '[[sign]]\nasks = { pct = "Is it hunger?" }'),
        (texts_of_rows, '[[sign]]\nsteps = [{ do = "Set the hold" }]'),
        (texts_of_sentences, 'say(f"{name} is no member of an orchard.")'),
    ],
)
def test_a_planted_phrase_is_found(read, text):
    assert any(matches(WORN, planted) for planted in read(text))


@pytest.mark.parametrize(
    "text",
    ["Take it back", "Hand over tasks", "3 tasks handed over.", "Withdraw it"],
)
def test_a_planted_label_is_found(text):
    assert other_labels_in(text)
    assert not other_labels_in("Withdraw: assign, take or hand out a round")


@pytest.mark.parametrize(
    "text", ["Your to-dos", "A second opinion", "Syncing", "Plot 3"]
)
def test_a_planted_synonym_is_found(text):
    assert synonyms_in(text)
    assert not synonyms_in("Tasks of block 3 in the outbox")

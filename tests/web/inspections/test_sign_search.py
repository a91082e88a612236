"""The phone's index is the guide's, and finds in the same order."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from django.conf import settings

from orchard.science import guide
from orchard.services import facts
from orchard.web.pages.inspections import sign_blocks
from orchard.web.sign_files import (
    SIGN_TEXTS_FILE,
    SIGN_WORDS_FILE,
    sign_texts_text,
    sign_words_text,
)
from tests.conftest import TODAY

NODE = shutil.which("node")
SCRIPT = """
import { findKeys } from "./static/js/inspections/sign_search.js";
import * as index from "./static/js/inspections/sign_words.js";
const said = JSON.parse(process.argv[1]);
console.log(JSON.stringify(said.map((words) => findKeys(words, index))));
"""


def test_the_phones_words_and_questions_are_up_to_date():
    assert SIGN_WORDS_FILE.read_text() == sign_words_text()
    assert SIGN_TEXTS_FILE.read_text() == sign_texts_text()


def test_every_question_of_a_form_is_among_the_phones(tree):
    files = ("facts", "signs", "us")
    said = dict(re.findall(r'^  "([\w:]+)": (".*"),$', sign_texts_text(), re.M))
    assert all(f"export const {name} = " in sign_texts_text() for name in files)
    ground = facts.gather(tree, on=TODAY)
    for key, outcome in sign_blocks.outcomes_of(ground, "citrus").items():
        for ask in outcome["asks"]:
            fact = ask["fact"]
            assert json.loads(said.get(f"{key}:{fact}") or said[fact]) == ask["label"]


@pytest.mark.skipif(NODE is None, reason="Node is not installed.")
def test_phone_and_server_find_the_same_in_the_same_order():
    file = Path(settings.BASE_DIR) / "tests/science/data/descriptions.json"
    said = [words for words, _sign in json.loads(file.read_text())]
    told = subprocess.run(
        [str(NODE), "--input-type=module", "-e", SCRIPT, json.dumps(said)],
        cwd=settings.BASE_DIR, capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    signs = guide.load().signs.values()
    ours = [[sign.key for sign in guide.find_signs(words, signs)] for words in said]
    assert json.loads(told) == ours

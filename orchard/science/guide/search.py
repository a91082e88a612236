"""Finding a sign by what somebody says who does not know its name.

The phone finds by the same index and the same steps, in `sign_search.js`.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from orchard.science.guide.shapes import Sign

# Words that say nothing of a sign.
EMPTY_WORDS = frozenset(
    re.findall(
        r"\w+",
        "a all an and are at be by can does for from has have i in is it its like look "
        "looks lots many me my of on or our see seen so some that the them there these "
        "they thing things this those to tree trees under up very was we what with",
    )
)
NAME, EVERYDAY, DESCRIPTION, ALIKE = 3.0, 2.5, 1.2, 0.4
EXACT, BEGINS, BEGUN_BY, NEARLY, ROUGHLY = 1.0, 0.8, 0.7, 0.7, 0.55
# A whole phrase that is said counts more than its words.
PHRASE = 1.5
# What scores far less than the best is not what is meant.
SHARE_OF_BEST = 0.3


class SignWords(NamedTuple):
    """The words by which one sign is found, each in its short form."""

    name: tuple[str, ...]
    phrases: tuple[tuple[str, ...], ...]
    description: tuple[str, ...]
    alike: tuple[str, ...]

    @property
    def weights(self) -> dict[str, float]:
        """Return how much each word counts: the most of the fields it stands in."""
        everyday = [word for phrase in self.phrases for word in phrase]
        fields = (
            (self.alike, ALIKE),
            (self.description, DESCRIPTION),
            (everyday, EVERYDAY),
            (self.name, NAME),
        )
        return {word: weight for words, weight in fields for word in words}


def words_of(sign: Sign) -> SignWords:
    """Return the words by which a sign is found."""
    look_alikes = " ".join(f"{other.name} {other.tell}" for other in sign.alike)
    named = f"{sign.name} {sign.scientific}"
    return _words(named, tuple(sign.everyday), sign.look_for, look_alikes)


@lru_cache(maxsize=1024)
def _words(
    named: str, everyday: tuple[str, ...], look_for: str, look_alikes: str
) -> SignWords:
    """Cut the texts of a sign into words, once for all who search."""
    return SignWords(
        _once(short_words(named)),
        tuple(tuple(short_words(phrase)) for phrase in everyday),
        _once(short_words(look_for)),
        _once(short_words(look_alikes)),
    )


def search_index(signs: Iterable[Sign]) -> dict[str, Any]:
    """Return all that finding by word needs, as plain data for the phone."""
    return {
        "empty": sorted(EMPTY_WORDS),
        "weights": [ALIKE, DESCRIPTION, EVERYDAY, NAME],
        "likes": [EXACT, BEGINS, BEGUN_BY, NEARLY, ROUGHLY],
        "phrase": PHRASE,
        "share": SHARE_OF_BEST,
        "signs": {
            sign.key: [
                " ".join(words.alike),
                " ".join(words.description),
                [" ".join(phrase) for phrase in words.phrases],
                " ".join(words.name),
            ]
            for sign in signs
            for words in [words_of(sign)]
        },
    }


def find_signs(typed: str, signs: Iterable[Sign]) -> list[Sign]:
    """Return the signs that fit what was typed, the best first; spelling may slip."""
    by_key = {sign.key: sign for sign in signs}
    words = {key: words_of(sign) for key, sign in by_key.items()}
    return [by_key[key] for key in find_keys(typed, words)]


def find_keys(typed: str, index: Mapping[str, SignWords]) -> list[str]:
    """Return the keys of the signs that fit what was typed, the best first."""
    asked = short_words(typed)
    weights = {key: words.weights for key, words in index.items()}
    spread = Counter(word for row in weights.values() for word in row)
    rare = {word: math.log(1 + len(index) / n) for word, n in spread.items()}
    likeness = [_fits(piece, spread) for piece in asked]
    scores = {}
    for key, words in index.items():
        score = sum(
            max(
                (
                    weights[key][word] * like * rare[word]
                    for word, like in fits.items()
                    if word in weights[key]
                ),
                default=0.0,
            )
            for fits in likeness
        )
        score += PHRASE * max(
            (
                sum(rare[word] for word in phrase)
                for phrase in words.phrases
                if phrase and all(any(w in fits for fits in likeness) for w in phrase)
            ),
            default=0.0,
        )
        if score:
            scores[key] = score
    least = SHARE_OF_BEST * max(scores.values(), default=0.0)
    found = [key for key, score in scores.items() if score >= least]
    return sorted(found, key=lambda key: (-round(scores[key], 6), key))


def short_words(text: str) -> list[str]:
    """Return the words of a text that say something, without accents and endings."""
    plain = unicodedata.normalize("NFD", text.lower().replace("'", ""))
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    words = re.findall(r"[a-z0-9]+", plain)
    return [_short(word) for word in words if word not in EMPTY_WORDS]


def _short(word: str) -> str:
    """Cut the commonest English endings, so that leaf finds leaves."""
    if len(word) > 4 and word.endswith("ves"):
        word = f"{word[:-3]}f"
    elif len(word) > 4 and word.endswith("ies"):
        word = f"{word[:-3]}y"
    elif len(word) > 3 and word.endswith("s") and not word.endswith("ss"):
        word = word[:-1]
    for ending in ("ing", "ed"):
        if len(word) > len(ending) + 3 and word.endswith(ending):
            word = word[: -len(ending)]
            if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "ls":
                word = word[:-1]
            break
    if len(word) > 3 and word[-1] in "ey":
        word = word[:-1]
    return word


def _fits(piece: str, words: Collection[str]) -> dict[str, float]:
    """Return the words that a typed one fits, with how well.

    What is a word of the index is no slip of another: a leaf does not lean.
    """
    likes = {word: _likeness(piece, word, piece not in words) for word in words}
    return {word: like for word, like in likes.items() if like}


def _likeness(piece: str, word: str, may_slip: bool) -> float:
    """Tell how well a typed word fits one of a sign; 0 is not at all."""
    if piece == word:
        return EXACT
    if len(piece) >= 3 and word.startswith(piece):
        return BEGINS
    if len(word) >= 4 and piece.startswith(word):
        return BEGUN_BY
    shorter = min(len(piece), len(word))
    if not may_slip or shorter < 4 or abs(len(piece) - len(word)) > 2:
        return 0.0
    slips = _slips(piece, word)
    if slips <= 1:
        return NEARLY
    return ROUGHLY if slips == 2 and shorter >= 7 else 0.0


@lru_cache(maxsize=65536)
def _slips(first: str, other: str) -> int:
    """Count letters left out, added, changed, or exchanged with their neighbour."""
    rows = [list(range(len(other) + 1))]
    for n, letter in enumerate(first, start=1):
        row = [n]
        for m, found in enumerate(other, start=1):
            cost = min(
                rows[-1][m] + 1, row[-1] + 1, rows[-1][m - 1] + (letter != found)
            )
            if n > 1 and m > 1 and letter == other[m - 2] and first[n - 2] == found:
                cost = min(cost, rows[-2][m - 2] + 1)
            row.append(cost)
        rows.append(row)
    return rows[-1][-1]


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))

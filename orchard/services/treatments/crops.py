"""The crops on a label: which trees the words mean that somebody typed from it."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

from orchard.records.models import Kind, Product, Tree
from orchard.science import figures, guide

# Where one of these stands, a line means less than its names: nobody guesses how much.
NARROWED = re.compile(
    r"\b(except\w*|excl\w*|other than|not|no|non\w*|only|unless|without|nursery|"
    r"ornamentals?|rootstocks?|seedlings?|bearing)\b"
)
# What stands between several crops on one line.
BETWEEN = re.compile(r"\s*(?:[,;•·]|\band\b|&|\+)\s*")
# Words beside the name of a crop that change nothing.
BESIDE = re.compile(
    r"\b(crop|sub|group|subgroup|cropgroup|trees?|fruits?|crops?|spp|species|all|fresh|"
    r"the)\b\.?"
)
FRUIT_TREES = frozenset({"fruit tree", "fruit trees", "all fruit trees"})


def is_on_label(product: Product, tree: Tree) -> bool:
    """Tell whether a label names what a tree is: its cultivar, group, host or crop."""
    names = _own_names(tree.kind)
    return any(
        part in FRUIT_TREES or _covers(_plain(part), tree.kind, names)
        for line in crops_of(product)
        for part in _parts(line)
    )


def crops_of(product: Product) -> tuple[str, ...]:
    """List the crops of a label, one a line."""
    return tuple(line.strip() for line in product.crops.splitlines() if line.strip())


def unread_crops(product: Product) -> list[str]:
    """List the lines of a label that name no crop of the book and no cultivar here.

    A line with an exception in it is among them: nobody guesses what it leaves.
    """
    kinds = Kind.objects.filter(orchard=product.orchard_id)
    own = {name for kind in kinds for name in _own_names(kind)}
    return [
        line
        for line in crops_of(product)
        if not any(
            part in FRUIT_TREES or _plain(part) in own or _plain(part) in _crops()
            for part in _parts(line)
        )
    ]


def _parts(line: str) -> list[str]:
    text = line.casefold()
    if NARROWED.search(text):
        return []
    # "Orange, sweet" and "citrus fruit (group 10-10)" are one crop each.
    whole = re.sub(r"[()\[\],]", " ", text)
    parts = [text, *BETWEEN.split(text), whole]
    return list(dict.fromkeys(" ".join(part.split()) for part in parts if part.strip()))


def _plain(words: str) -> str:
    """Return the name of a crop without what stands beside it, in the singular."""
    text = re.sub(r"[()\[\]:.]", " ", words.casefold())
    text = " ".join(BESIDE.sub(" ", text).split())
    return re.sub(r"(?<=[a-z])s$", "", text) if not text.endswith("us") else text


def _own_names(kind: Kind) -> frozenset[str]:
    names = (kind.name, kind.group, kind.host, *kind.other_names)
    return frozenset(_plain(name) for name in names if name) - {""}


def _covers(name: str, kind: Kind, names: frozenset[str]) -> bool:
    if name in names:
        return True
    row = _crops().get(name)
    cultivar = guide.load().cultivars.get(kind.guide_key)
    if row is None or cultivar is None or cultivar.kind not in row["kinds"]:
        return False
    group = kind.group.casefold()
    return not any(word in group for word in row["but"])


@lru_cache(maxsize=1)
def _crops() -> dict[str, dict[str, Any]]:
    rows = figures.rows("crop", "crops.toml")
    return {_plain(word): row for row in rows for word in row["words"]}

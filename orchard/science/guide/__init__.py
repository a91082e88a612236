"""The guide: what is known about signs, kinds and care, as data with sources.

`load` reads the files beside this module into frozen rows and refuses a guide in
which anything is missing, unknown, contradictory or out of reach.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from orchard.science.guide import reading
from orchard.science.guide.checking import check_rules, read_rules, written
from orchard.science.guide.rows import GuideError, Row, read_file
from orchard.science.guide.rules import Band, Condition, Fact, Rule, Value
from orchard.science.guide.shapes import (
    Alike,
    CareJob,
    Cultivar,
    Guide,
    Pest,
    Rootstock,
    Sign,
    SignStep,
    Stage,
    Tenderness,
)

__all__ = [
    "Alike",
    "Band",
    "CareJob",
    "Condition",
    "Cultivar",
    "Fact",
    "Guide",
    "GuideError",
    "Pest",
    "Rootstock",
    "Rule",
    "Sign",
    "SignStep",
    "Stage",
    "Tenderness",
    "Value",
    "check_rules",
    "load",
    "read_rules",
    "written",
]

VERSION = "2026.1"
FOLDER = Path(__file__).parent

Made = TypeVar("Made")
Key = TypeVar("Key", str, int)


def load(folder: Path | None = None) -> Guide:
    """Read a guide folder, by default the one beside this module, once per process.

    GuideError with a sentence that names file and row for a rule list that is not
    total, a rule out of reach, an unknown fact, source, pest or look-alike, a value
    of the wrong type or outside its choices, a row without source or unit, a key that
    stands twice, and an act or report without due.
    """
    return _default() if folder is None else _load(folder)


@lru_cache(maxsize=1)
def _default() -> Guide:
    return _load(FOLDER)


def _load(folder: Path) -> Guide:
    sources = _keyed(
        reading.rows_of(folder / "sources.toml", "source"),
        reading.read_source,
        lambda source: source.key,
    )
    facts = _keyed(
        reading.rows_of(folder / "facts.toml", "fact"),
        reading.read_fact,
        lambda fact: fact.key,
    )
    pests = _keyed(
        reading.rows_of(folder / "pests.toml", "pest"),
        reading.read_pest,
        lambda pest: pest.code,
    )
    kinds = _grouped(
        folder / "kinds.toml", "tenderness", "cultivar", "rootstock", "stage"
    )
    tenderness = _keyed(
        kinds["tenderness"],
        lambda row: reading.read_tenderness(row, sources),
        lambda one: one.key,
    )
    cultivars = _keyed(
        kinds["cultivar"],
        lambda row: reading.read_cultivar(row, sources, tenderness),
        lambda one: one.name,
    )
    return Guide(
        edition=f"{VERSION}-{_fingerprint(folder)}",
        signs=_signs(folder, facts, pests, sources),
        facts=facts,
        pests=pests,
        tenderness=tenderness,
        cultivars=cultivars,
        rootstocks=_keyed(
            kinds["rootstock"],
            lambda row: reading.read_rootstock(row, sources, cultivars),
            lambda one: one.name,
        ),
        stages=_keyed(
            kinds["stage"],
            lambda row: reading.read_stage(row, sources),
            lambda one: one.code,
        ),
        jobs=_keyed(
            reading.rows_of(folder / "care.toml", "job"),
            lambda row: reading.read_job(row, sources, facts),
            lambda one: one.key,
        ),
        sources=sources,
    )


def _signs(
    folder: Path,
    facts: Mapping[str, Fact],
    pests: Mapping[str, Pest],
    sources: Mapping[str, object],
) -> Mapping[str, Sign]:
    rows = [
        (path.stem, row)
        for path in reading.sign_files(folder)
        for row in reading.rows_of(path, "sign")
    ]
    groups = {id(row): group for group, row in rows}
    signs = _keyed(
        [row for _, row in rows],
        lambda row: reading.read_sign(row, groups[id(row)], facts, pests, sources),
        lambda sign: sign.key,
    )
    for _, row in rows:
        for alike in signs[row.text("key")].alike:
            if alike.sign and alike.sign not in signs:
                raise row.error(f"look-alike {alike.sign!r} is no sign of the guide.")
    return signs


def _grouped(path: Path, *kinds: str) -> dict[str, list[Row]]:
    grouped: dict[str, list[Row]] = {kind: [] for kind in kinds}
    for kind, row in read_file(path, *kinds):
        grouped[kind].append(row)
    return grouped


def _keyed(
    rows: Iterable[Row], make: Callable[[Row], Made], key: Callable[[Made], Key]
) -> Mapping[Key, Made]:
    found: dict[Key, Made] = {}
    for row in rows:
        made = make(row)
        row.finish()
        if key(made) in found:
            raise row.error(f"{key(made)!r} stands in the guide twice.")
        found[key(made)] = made
    return MappingProxyType(found)


def _fingerprint(folder: Path) -> str:
    """Shorten the content of all files of the guide to six signs."""
    content = sha256()
    for path in sorted(folder.rglob("*.toml")):
        content.update(path.relative_to(folder).as_posix().encode())
        content.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return content.hexdigest()[:6]

"""Loading a guide folder: all its files together, and all their faults at once."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import replace
from enum import StrEnum
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from orchard.science import figures
from orchard.science.guide import reading
from orchard.science.guide.references import References
from orchard.science.guide.shapes import Guide, Sign
from orchard.science.guide_files import (
    Everything,
    Fault,
    GuideError,
    Row,
    read_rows,
)
from orchard.science.words import ONE_JOB_ROLES, HoldKind, JobRole, TreatmentKind

Made = TypeVar("Made")
Rows = dict[str, list[Row]]


def read_guide(folder: Path, version: str) -> Guide:
    """Read all files of a guide folder; GuideError lists every fault of them."""
    faults: list[Fault] = []

    def read(name: str, *kinds: str) -> Rows | None:
        return read_rows(folder, name, kinds, faults)

    references = References()
    source_rows = read("sources.toml", "source")
    sources = _by_key(source_rows, "source", reading.read_source, references)
    fact_rows = read("facts.toml", "fact")
    facts = _by_key(fact_rows, "fact", reading.read_fact, references)
    pest_rows = read("pests.toml", "pest")
    pests = _by_key(pest_rows, "pest", reading.read_pest, references, "code")
    doubtful_facts = _faulty_keys(fact_rows, "fact")
    references = References(
        facts={key: fact for key, fact in facts.items() if key not in doubtful_facts},
        doubtful_facts=doubtful_facts,
        sources=_names(source_rows, sources),
        pests=_names(pest_rows, pests),
    )
    region_rows = read("regions.toml", "region", "standing")
    regions = _by_key(region_rows, "region", reading.read_region, references)
    references = replace(references, regions=_names(region_rows, regions))
    standings = _by_key(
        region_rows, "standing", reading.read_standing, references, "code"
    )
    kinds = read("kinds.toml", "tenderness", "cultivar", "rootstock", "stage")
    tenderness = _by_key(kinds, "tenderness", reading.read_tenderness, references)
    references = replace(references, tenderness=tenderness)
    cultivars = _by_key(kinds, "cultivar", reading.read_cultivar, references, "name")
    references = replace(references, cultivars=cultivars)
    rootstocks = _by_key(kinds, "rootstock", reading.read_rootstock, references, "name")
    stages = _by_key(kinds, "stage", reading.read_stage, references, "code")
    job_rows = read("care.toml", "job")
    jobs = _by_key(job_rows, "job", reading.read_job, references)
    _check_roles(job_rows, faults)
    hold_rows = read("holds.toml", "hold")
    holds = _by_key(hold_rows, "hold", reading.read_hold, references)
    forbids = "no row says what the hold {} forbids; add one."
    _check_every(hold_rows, "hold", HoldKind, holds, forbids, faults)
    treatment_rows = read("treatments.toml", "treatment")
    treatments = _by_key(
        treatment_rows, "treatment", reading.read_treatment, references
    )
    asks = "no row says what the treatment {} asks for; add one."
    _check_every(treatment_rows, "treatment", TreatmentKind, treatments, asks, faults)
    _check_names(treatment_rows, "treatment", "jobs", jobs, "job")
    term_rows = read("glossary.toml", "term")
    terms = _by_key(term_rows, "term", reading.read_term, references)
    _check_forms(term_rows)
    signs = _read_signs(folder, references, faults)
    _check_names(job_rows, "job", "signs", signs, "sign")
    tables = figures.read_tables(folder)
    faults += tables.faults
    if faults:
        raise GuideError(_in_order(faults))
    return Guide(
        edition=f"{version}-{_fingerprint(folder)}",
        signs=signs,
        facts=facts,
        pests=pests,
        regions=regions,
        standings=standings,
        tenderness=tenderness,
        cultivars=cultivars,
        rootstocks=rootstocks,
        stages=stages,
        jobs=jobs,
        holds=holds,
        treatments=treatments,
        terms=terms,
        figures=tables.figures,
        sources=sources,
    )


def _check_roles(files: Rows | None, faults: list[Fault]) -> None:
    """Note a role that no job has, and one of a single job that two have."""
    if files is None or not all(row.is_sound("roles") for row in files["job"]):
        return
    holders: dict[JobRole, list[Row]] = {role: [] for role in JobRole}
    for row in files["job"]:
        for role in row.words("roles", JobRole) if row.has("roles") else ():
            holders[role].append(row)
    for role, rows in holders.items():
        if not rows:
            problem = f"no job has the role {role}; give it to one in its roles."
            faults.append(Fault(problem, "care.toml"))
        if role in ONE_JOB_ROLES:
            for row in rows[1:]:
                row.note_fault(
                    "roles", f"only one job can be {role}, and {rows[0].label} is."
                )


def _check_every(
    files: Rows | None,
    kind: str,
    words: type[StrEnum],
    rows: Container[Any],
    problem: str,
    faults: list[Fault],
) -> None:
    """Note a word of which no row says what it means here."""
    if files is None or not all(row.is_sound("key") for row in files[kind]):
        return
    for word in words:
        if word not in rows:
            faults.append(Fault(problem.format(word), f"{kind}s.toml"))


def _check_names(
    files: Rows | None, kind: str, field: str, named: Container[str], what: str
) -> None:
    """Note a name in a column that nothing of the guide has."""
    for row in files[kind] if files is not None else ():
        if not row.has(field) or not row.is_sound(field):
            continue
        for name in row.texts(field):
            if name not in named:
                problem = f"{name!r} is no {what} of the guide; mend its spelling."
                row.note_fault(field, problem)


def _check_forms(files: Rows | None) -> None:
    """Note a spelling that two words claim: a text could be told either."""
    claimed: dict[str, Row] = {}
    for row in files["term"] if files is not None else ():
        for form in row.texts("forms") if row.is_sound("forms") else ():
            other = claimed.setdefault(form.casefold(), row)
            if other is not row:
                row.note_fault("forms", f"{form!r} is one of {other.label} too.")


def _read_signs(
    folder: Path, references: References, faults: list[Fault]
) -> Mapping[str, Sign]:
    files = [
        read_rows(folder, f"signs/{path.name}", ("sign",), faults)
        for path in sorted((folder / "signs").glob("*.toml"))
    ]
    if not files:
        faults.append(Fault("there is no file of signs; put one there.", "signs"))
    rows = [row for file in files if file is not None for row in file["sign"]]
    signs = _by_key({"sign": rows}, "sign", reading.read_sign, references)
    if None not in files:
        for row in rows:
            _check_look_alikes(row, signs)
            _check_opened(row, signs)
    return signs


def _check_opened(row: Row, signs: Container[str]) -> None:
    for rule in row.rows("rule", "rule"):
        sign = rule.values.get("opens")
        if sign is not None and sign not in signs:
            rule.note_fault("opens", f"{sign!r} is no sign of the guide.")


def _check_look_alikes(row: Row, signs: Container[str]) -> None:
    for alike in row.rows("alike", "look-alike"):
        sign = alike.values.get("sign")
        if isinstance(sign, str) and sign and sign not in signs:
            problem = f"{sign!r} is no sign of the guide; add it or mend its spelling."
            alike.note_fault("sign", problem)


def _by_key(
    files: Rows | None,
    kind: str,
    make: Callable[[Row, References], Made],
    references: References,
    key: str = "key",
) -> Mapping[Any, Made]:
    """Make what the rows of a kind stand for, and note the keys that stand twice."""
    made: dict[Any, Made] = {}
    first: dict[Any, Row] = {}
    for row in (files or {}).get(kind, ()):
        entry = make(row, references)
        row.finish()
        name = getattr(entry, key)
        if name in first and row.is_sound(key):
            place = first[name].place
            row.note_fault(
                key,
                f"{name!r} stands in the guide twice, first in {place}; rename one.",
            )
            continue
        first[name] = row
        made[name] = entry
    return MappingProxyType(made)


def _names(files: Rows | None, found: Container[str]) -> Container[str]:
    return Everything() if files is None else found


def _faulty_keys(files: Rows | None, kind: str) -> Container[str]:
    if files is None:
        return Everything()
    return {str(row.values.get("key")) for row in files[kind] if not row.is_sound()}


def _in_order(faults: Iterable[Fault]) -> list[Fault]:
    """Sort faults by file, in the order in which these were read, and by line."""
    faults = list(faults)
    files = list(dict.fromkeys(fault.file for fault in faults))
    return sorted(faults, key=lambda fault: (files.index(fault.file), fault.line or 0))


def _fingerprint(folder: Path) -> str:
    """Shorten the content of all files of the guide to six characters."""
    content = sha256()
    for path in sorted(folder.rglob("*.toml")):
        content.update(path.relative_to(folder).as_posix().encode())
        content.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return content.hexdigest()[:6]

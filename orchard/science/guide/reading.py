"""Making the guide's rows from its files."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

from orchard.science.guide.checking import read_conditions, read_rules
from orchard.science.guide.rows import Row, read_file
from orchard.science.guide.rules import Fact
from orchard.science.guide.shapes import (
    Alike,
    CareJob,
    Cultivar,
    Pest,
    Rootstock,
    Sign,
    SignStep,
    Stage,
    Tenderness,
)
from orchard.science.source import How, Source
from orchard.science.windows.triggers import read_trigger
from orchard.science.words import (
    Measure,
    NotWhile,
    Part,
    PestStatus,
    Scope,
    StepKind,
    Verdict,
)

HOSTS = ("any", "citrus", "stone", "pome", "fig", "persimmon", "pomegranate")
GIVERS = ("tree", "date", "site", "weather", "answer")


def read_source(row: Row) -> Source:
    """Read a row of sources.toml."""
    return Source(
        key=row.text("key"),
        author=row.text("author"),
        title=row.text("title"),
        place=row.text("place", ""),
        year=row.maybe_whole("year", 1800, 2100),
        how=row.word("how", How),
        note=row.text("note", ""),
    )


def read_fact(row: Row) -> Fact:
    """Read a row of facts.toml; a number needs its unit and its bounds."""
    kind = row.text("kind")
    given_by = row.text("from")
    if kind not in ("number", "yes_no", "choice"):
        raise row.error(f"kind is {kind!r}, not number, yes_no or choice.")
    if given_by not in GIVERS:
        raise row.error(f"from is {given_by!r}, not one of {', '.join(GIVERS)}.")
    number = kind == "number"
    if number and not row.has("unit"):
        raise row.error("a number without unit is not used.")
    low = row.number("low", -1e6, 1e6) if number else 0
    high = row.number("high", low, 1e6) if number else 0
    return Fact(
        key=row.text("key"),
        kind=kind,
        words=row.text("words"),
        no_words=row.text("no_words") if kind == "yes_no" else "",
        given_by=given_by,
        ask=row.text("ask", ""),
        unit=row.text("unit", ""),
        choices=row.texts("choices") if row.has("choices") else (),
        low=low,
        high=high,
        whole=row.truth("whole", False),
    )


def read_pest(row: Row) -> Pest:
    """Read a row of pests.toml."""
    return Pest(
        code=row.text("code"),
        taxon=row.text("taxon"),
        usual_status=row.word("usual_status", PestStatus),
        how=row.word("how", How),
    )


def read_tenderness(row: Row, sources: Collection[str]) -> Tenderness:
    """Read a class of cold hardiness, its temperatures falling step by step."""
    read = Tenderness(
        key=row.text("key"),
        name=row.text("name"),
        soft_growth_c=row.number("soft_growth_c", -20, 10),
        wood_c=row.number("wood_c", -20, 10),
        mature_kill_c=row.number("mature_kill_c", -20, 10),
        cover_at_c=row.number("cover_at_c", -20, 10),
        sources=row.sources(sources),
        how=row.word("how", How),
    )
    falling = [read.cover_at_c, read.soft_growth_c, read.wood_c, read.mature_kill_c]
    if falling != sorted(falling, reverse=True):
        raise row.error("cover, soft growth, wood and kill must fall in this order.")
    return read


def read_cultivar(
    row: Row, sources: Collection[str], classes: Collection[str]
) -> Cultivar:
    """Read a cultivar with its ripe season months and its cold class."""
    ripe = row.wholes("ripe", 1, 12)
    if len(ripe) not in (0, 2):
        raise row.error("ripe takes first and last season month, or nothing.")
    tenderness = row.text("tenderness")
    if tenderness not in classes:
        raise row.error(f"tenderness {tenderness!r} is no class of this file.")
    host = row.text("host")
    if host not in HOSTS[1:]:
        raise row.error(f"host is {host!r}, not one of {', '.join(HOSTS[1:])}.")
    return Cultivar(
        name=row.text("name"),
        kind=row.text("kind"),
        group=row.text("group", ""),
        host=host,
        ripe=(ripe[0], ripe[1]) if ripe else None,
        hang_weeks=row.whole("hang_weeks", 0, 52),
        tenderness=tenderness,
        maturity=row.text("maturity"),
        notes=row.text("notes", ""),
        sources=row.sources(sources),
        how=row.word("how", How),
    )


def read_rootstock(
    row: Row, sources: Collection[str], cultivars: Collection[str]
) -> Rootstock:
    """Read a rootstock; its poor matches must be cultivars of the guide."""
    leaf = row.text("leaf")
    if leaf not in ("three_part", "one_part"):
        raise row.error(f"leaf is {leaf!r}, not three_part or one_part.")
    poor = row.texts("poor_matches")
    for cultivar in poor:
        if cultivar not in cultivars:
            raise row.error(f"poor match {cultivar!r} is no cultivar of the guide.")
    return Rootstock(
        name=row.text("name"),
        leaf=leaf,
        habit=row.text("habit"),
        cold=row.text("cold"),
        foot_rot=row.text("foot_rot"),
        viruses=row.text("viruses"),
        heavy_soil=row.text("heavy_soil", ""),
        lime=row.text("lime"),
        salt=row.text("salt"),
        poor_matches=poor,
        poor_words=row.text("poor_words", ""),
        vigour=row.text("vigour"),
        use=row.text("use"),
        sources=row.sources(sources),
        how=row.word("how", How),
    )


def read_stage(row: Row, sources: Collection[str]) -> Stage:
    """Read a growth stage."""
    row.sources(sources)
    return Stage(
        code=row.whole("code", 0, 99),
        principal=row.whole("principal", 0, 9),
        meaning=row.text("meaning"),
    )


def read_job(row: Row, sources: Collection[str], facts: Mapping[str, Fact]) -> CareJob:
    """Read a care job with its trigger."""
    try:
        trigger = read_trigger(row.table("trigger"))
    except ValueError as fault:
        raise row.error(str(fault)) from None
    return CareJob(
        key=row.text("key"),
        name=row.text("name"),
        scope=row.word("scope", Scope),
        who=row.text("who"),
        minutes=row.number("minutes", 0, 600),
        tools=row.text("tools", ""),
        evidence=row.text("evidence"),
        caution=row.text("caution", ""),
        why=row.text("why"),
        weight=row.word("weight", Verdict),
        applies=read_conditions(row, "applies", facts),
        applies_words=row.text("applies_words"),
        trigger=trigger,
        not_while=row.words("not_while", NotWhile) if row.has("not_while") else (),
        sources=row.sources(sources),
        how=row.word("how", How),
    )


def read_sign(
    row: Row,
    group: str,
    facts: Mapping[str, Fact],
    pests: Collection[str],
    sources: Collection[str],
) -> Sign:
    """Read a sign with its rules."""
    hosts = row.texts("hosts")
    for host in hosts:
        if host not in HOSTS:
            raise row.error(f"host {host!r} is not one of {', '.join(HOSTS)}.")
    eppo = row.texts("eppo")
    for code in eppo:
        if code not in pests:
            raise row.error(f"EPPO code {code!r} is not in pests.toml.")
    measure = row.word("measure", Measure)
    rules = read_rules([dict(one.values) for one in row.rows("rule", "rule")],
                       facts, row.place)  # fmt: skip
    for condition in (one for rule in rules for one in rule.conditions):
        named = condition.value
        for value in named if isinstance(named, tuple) else (named,):
            if condition.fact == "species" and value not in pests:
                raise row.error(f"species {value!r} is not in pests.toml.")
    asks_fact = row.text("asks_fact", measure.fact) or measure.fact
    if asks_fact not in facts:
        raise row.error(f"asks_fact {asks_fact!r} is no fact of facts.toml.")
    return Sign(
        key=row.text("key"),
        group=group,
        name=row.text("name"),
        scientific=row.text("scientific", ""),
        eppo=eppo,
        eppo_how=row.word("eppo_how", How).value if eppo else row.text("eppo_how", ""),
        hosts=hosts,
        parts=row.words("parts", Part),
        usual_sm=row.wholes("usual_sm", 1, 12),
        common=row.maybe_whole("common", 1, 20),
        look_for=row.text("look_for"),
        why=row.text("why"),
        measure=measure,
        ask=row.text("ask"),
        asks_fact=asks_fact,
        positive=read_conditions(row, "positive", facts),
        steps=tuple(_read_step(one) for one in row.rows("steps", "step")),
        frost_exempt=row.truth("frost_exempt"),
        young_exempt=row.truth("young_exempt", False),
        do_not=row.texts("do_not"),
        caution=row.texts("caution"),
        photos=row.texts("photos"),
        alike=tuple(_read_alike(one) for one in row.rows("alike", "look-alike")),
        rules=rules,
        sources=row.sources(sources),
        how=row.word("how", How),
        basis=row.text("basis"),
    )


def _read_step(row: Row) -> SignStep:
    step = SignStep(row.text("do"), row.word("kind", StepKind))
    row.finish()
    return step


def _read_alike(row: Row) -> Alike:
    alike = Alike(row.text("sign", ""), row.text("name"), row.text("tell"))
    row.finish()
    return alike


def sign_files(folder: Path) -> list[Path]:
    """List the sign files of a guide folder in a fixed order."""
    return sorted((folder / "signs").glob("*.toml"))


def rows_of(path: Path, kind: str) -> list[Row]:
    """List the rows of one kind in a file of that kind alone."""
    return [row for _, row in read_file(path, kind)]

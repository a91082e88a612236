"""Making the guide's rows from its files."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from orchard.science.guide.references import References
from orchard.science.guide.rule_lists import (
    read_conditions,
    read_rule_rows,
    read_steps,
    rule_problems,
)
from orchard.science.guide.rules import Fact, Rule
from orchard.science.guide.shapes import (
    Alike,
    CareJob,
    Cultivar,
    HoldRule,
    Pest,
    PestStanding,
    Region,
    Rootstock,
    Sign,
    Stage,
    Tenderness,
    Term,
    TreatmentType,
)
from orchard.science.guide_files import Row
from orchard.science.source import Source, Verification
from orchard.science.windows import (
    Calendar,
    Span,
    Trigger,
    read_spans,
    read_trigger,
    turns_by_month,
)
from orchard.science.words import (
    HoldKind,
    JobRole,
    JobScope,
    LocalStatus,
    Measure,
    NotWhile,
    Part,
    ProtectionRule,
    StepKind,
    TreatmentAsk,
    TreatmentKind,
    Verdict,
    WorkKind,
)

FRUITS = ("citrus", "stone", "pome", "fig", "persimmon", "pomegranate")
HOSTS = ("any", *FRUITS)
FACT_KINDS = ("number", "yes_no", "choice")
GIVERS = ("tree", "date", "site", "weather", "answer")
LEAVES = ("three_part", "one_part")
ASK = "ask"
STANDINGS = (*LocalStatus, ASK)
NO_TRIGGER = Calendar(())


def read_source(row: Row, references: References) -> Source:
    """Read a row of sources.toml."""
    return Source(
        key=row.text("key"),
        author=row.text("author"),
        title=row.text("title"),
        place=row.text("place", ""),
        year=row.optional_whole("year", 1800, 2100),
        how=row.word("how", Verification),
        note=row.text("note", ""),
    )


def read_fact(row: Row, references: References) -> Fact:
    """Read a row of facts.toml; a number needs its unit and its bounds."""
    kind = row.choice("kind", FACT_KINDS)
    if not row.is_sound("kind"):
        # Which fields belong to it is not clear.
        for field in ("low", "high", "no_words"):
            row.has(field)
    is_number = kind == "number"
    if is_number and not row.has("unit"):
        row.note_fault("unit", 'a number without unit is not used; add it, perhaps "".')
    low = row.number("low", -1e6, 1e6) if is_number else 0
    high = row.number("high", low, 1e6) if is_number else 0
    return Fact(
        key=row.text("key"),
        kind=kind,
        words=row.text("words"),
        no_words=row.text("no_words") if kind == "yes_no" else "",
        given_by=row.choice("from", GIVERS),
        ask=row.text("ask", ""),
        unit=row.text("unit", ""),
        choices=row.texts("choices") if row.has("choices") else (),
        low=low,
        high=high,
        whole=row.truth("whole", False),
        about_tree=row.truth("about_tree", False),
        asked_first=row.truth("asked_first", False),
    )


def read_pest(row: Row, references: References) -> Pest:
    """Read a row of pests.toml."""
    return Pest(
        code=row.text("code"),
        taxon=row.text("taxon"),
        usual_status=row.word("usual_status", LocalStatus),
        how=row.word("how", Verification),
    )


def read_region(row: Row, references: References) -> Region:
    """Read a region."""
    return Region(key=row.text("key"), name=row.text("name"))


def read_standing(row: Row, references: References) -> PestStanding:
    """Read how one pest stands in every region."""
    code = row.text("code")
    if row.is_sound("code") and code not in references.pests:
        row.note_fault("code", f"{code!r} is no pest of pests.toml; add it there.")
    given = row.table("in")
    if row.is_sound("in") and (
        not all(region in references.regions for region in given)
        or any(word not in STANDINGS for word in given.values())
    ):
        row.note_fault("in", f"regions take {', '.join(STANDINGS)}, one each.")
        given = {}
    return PestStanding(
        code=code,
        by_region={
            region: None if word == ASK else LocalStatus(str(word))
            for region, word in given.items()
        },
        read={
            region: str(source)
            for region, source in (row.table("read") if row.has("read") else {}).items()
        },
        note=row.text("note", ""),
    )


def read_tenderness(row: Row, references: References) -> Tenderness:
    """Read a class of cold hardiness, its temperatures falling step by step."""
    tenderness = Tenderness(
        key=row.text("key"),
        name=row.text("name"),
        soft_growth_c=row.number("soft_growth_c", -20, 10),
        wood_c=row.number("wood_c", -20, 10),
        mature_kill_c=row.number("mature_kill_c", -20, 10),
        cover_at_c=row.number("cover_at_c", -20, 10),
        sources=row.sources(references.sources),
        how=row.word("how", Verification),
    )
    falling = [
        tenderness.cover_at_c,
        tenderness.soft_growth_c,
        tenderness.wood_c,
        tenderness.mature_kill_c,
    ]
    if row.is_sound() and falling != sorted(falling, reverse=True):
        row.note_fault(
            "", "cover_at_c, soft_growth_c, wood_c and mature_kill_c must fall so."
        )
    return tenderness


def read_cultivar(row: Row, references: References) -> Cultivar:
    """Read a cultivar with its ripe season months and its cold class."""
    ripe = row.wholes("ripe", 1, 12)
    if len(ripe) not in (0, 2):
        row.note_fault("ripe", "it takes first and last season month, or nothing.")
    return Cultivar(
        name=row.text("name"),
        kind=row.text("kind"),
        group=row.text("group", ""),
        host=row.choice("host", FRUITS),
        ripe=(ripe[0], ripe[1]) if len(ripe) == 2 else None,
        hang_weeks=row.whole("hang_weeks", 0, 52),
        tenderness=row.key("tenderness", references.tenderness, "kinds.toml"),
        maturity=row.text("maturity"),
        notes=row.text("notes", ""),
        sources=row.sources(references.sources),
        how=row.word("how", Verification),
    )


def read_rootstock(row: Row, references: References) -> Rootstock:
    """Read a rootstock; its poor matches must be cultivars of the guide."""
    return Rootstock(
        name=row.text("name"),
        leaf=row.choice("leaf", LEAVES),
        habit=row.text("habit"),
        cold=row.text("cold"),
        foot_rot=row.text("foot_rot"),
        viruses=row.text("viruses"),
        heavy_soil=row.text("heavy_soil", ""),
        lime=row.text("lime"),
        salt=row.text("salt"),
        poor_matches=row.keys("poor_matches", references.cultivars, "kinds.toml"),
        poor_words=row.text("poor_words", ""),
        vigour=row.text("vigour"),
        use=row.text("use"),
        sources=row.sources(references.sources),
        how=row.word("how", Verification),
    )


def read_stage(row: Row, references: References) -> Stage:
    """Read a growth stage."""
    row.sources(references.sources)
    return Stage(
        code=row.whole("code", 0, 99),
        principal=row.whole("principal", 0, 9),
        meaning=row.text("meaning"),
    )


def read_job(row: Row, references: References) -> CareJob:
    """Read a care job with its trigger."""
    trigger = _read_trigger(row)
    return CareJob(
        key=row.text("key"),
        name=row.text("name"),
        scope=row.word("scope", JobScope),
        who=row.text("who"),
        minutes=row.number("minutes", 0, 600),
        turns=_read_turns(row, trigger),
        busy=_read_busy(row),
        opt_in=row.text("opt_in", ""),
        seen_by_look=row.truth("seen_by_look", default=False),
        signs=row.texts("signs") if row.has("signs") else (),
        tools=row.text("tools", ""),
        evidence=row.text("evidence"),
        caution=row.text("caution", ""),
        why=row.text("why"),
        for_visitors=row.text("for_visitors", ""),
        weight=row.word("weight", Verdict),
        applies=read_conditions(row, "applies", references),
        applies_words=row.text("applies_words"),
        trigger=trigger,
        not_while=row.words("not_while", NotWhile) if row.has("not_while") else (),
        work=row.words("work", WorkKind) if row.has("work") else (),
        roles=row.words("roles", JobRole) if row.has("roles") else (),
        sources=row.sources(references.sources),
        how=row.word("how", Verification),
    )


def read_hold(row: Row, references: References) -> HoldRule:
    """Read what a hold forbids."""
    return HoldRule(
        key=row.word("key", HoldKind),
        work=row.words("work", WorkKind),
        steps=row.words("steps", StepKind) if row.has("steps") else (),
        all_work=row.truth("all_work", False),
        sources=row.sources(references.sources),
        how=row.word("how", Verification),
    )


def read_treatment(row: Row, references: References) -> TreatmentType:
    """Read a kind of treatment."""
    return TreatmentType(
        key=row.word("key", TreatmentKind),
        name=row.text("name"),
        what=row.text("what"),
        protection=row.word("protection", ProtectionRule),
        asks=row.words("asks", TreatmentAsk) if row.has("asks") else (),
        jobs=row.texts("jobs") if row.has("jobs") else (),
        caution=row.texts("caution") if row.has("caution") else (),
        is_usual=row.truth("usual", False),
        sources=row.sources(references.sources),
        how=row.word("how", Verification),
    )


def read_term(row: Row, references: References) -> Term:
    """Read a word of the trade."""
    forms = row.texts("forms")
    if not forms and row.is_sound("forms"):
        row.note_fault("forms", "it is empty; write how texts spell the word.")
    return Term(
        key=row.text("key"),
        name=row.text("name"),
        forms=forms,
        means=row.text("means"),
        picture=row.text("picture", ""),
        sources=row.sources(references.sources),
        how=row.word("how", Verification),
    )


def _read_busy(row: Row) -> tuple[Span, ...]:
    """Read when most turns of a job come; nothing means all through the year."""
    try:
        return read_spans(row.text("busy", "any"))
    except ValueError as problem:
        row.note_fault("busy", str(problem))
    return ()


def _read_turns(row: Row, trigger: Trigger) -> float | None:
    """Read how often a year a job comes, where its trigger does not tell."""
    if row.has("turns"):
        return row.number("turns", 0, 400)
    try:
        turns_by_month(trigger, None)
    except ValueError:
        row.note_fault(
            "turns", "is missing: the trigger does not say how often a year."
        )
    return None


def _read_trigger(row: Row) -> Trigger:
    table = row.table("trigger")
    if row.is_sound("trigger"):
        try:
            return read_trigger(table)
        except ValueError as problem:
            row.note_fault("trigger", str(problem))
    return NO_TRIGGER


def read_sign(row: Row, references: References) -> Sign:
    """Read a sign with its rules; its group is the file it stands in."""
    measure = row.word("measure", Measure)
    eppo = row.keys("eppo", references.pests, "pests.toml")
    sign = Sign(
        key=row.text("key"),
        group=row.file_stem,
        name=row.text("name"),
        scientific=row.text("scientific", ""),
        eppo=eppo,
        eppo_how=row.word("eppo_how", Verification).value
        if eppo
        else row.text("eppo_how", ""),
        eppo_on=_read_pests_by_host(row, eppo),
        hosts=row.choices("hosts", HOSTS),
        parts=row.words("parts", Part),
        usual_sm=row.wholes("usual_sm", 1, 12),
        common=row.optional_whole("common", 1, 100),
        look_for=row.text("look_for"),
        everyday=row.texts("everyday"),
        why=row.text("why"),
        measure=measure,
        ask=row.text("ask"),
        asks_fact=_read_asked_fact(row, measure, references),
        asks=_read_asks(row, references),
        second_look=row.truth("second_look", False),
        positive=read_conditions(row, "positive", references),
        steps=read_steps(row),
        frost_exempt=row.truth("frost_exempt"),
        young_exempt=row.truth("young_exempt", False),
        do_not=row.texts("do_not"),
        caution=row.texts("caution"),
        photos=row.texts("photos"),
        alike=tuple(_read_alike(alike) for alike in row.rows("alike", "look-alike")),
        rules=(),
        rule_plans=(),
        sources=row.sources(references.sources),
        how=row.word("how", Verification),
        basis=row.text("basis"),
    )
    return sign.with_rules(_read_rules(row, references))


def _read_pests_by_host(
    row: Row, eppo: tuple[str, ...]
) -> Mapping[str, tuple[str, ...]]:
    by_host = row.table("eppo_on") if row.has("eppo_on") else {}
    read: dict[str, tuple[str, ...]] = {}
    for host, codes in by_host.items():
        if host not in HOSTS:
            row.note_fault("eppo_on", f"{host!r} is no host; mend its spelling.")
        if isinstance(codes, list) and set(codes) <= set(eppo):
            read[host] = tuple(codes)
        else:
            row.note_fault("eppo_on", f"the codes on {host} must be some of eppo.")
    return MappingProxyType(read)


def _read_asked_fact(row: Row, measure: Measure, references: References) -> str:
    asks_fact = row.text("asks_fact", "") or measure.fact
    is_fact = asks_fact in references.facts or asks_fact in references.doubtful_facts
    if row.is_sound("measure", "asks_fact") and not is_fact:
        row.note_fault(
            "asks_fact", f"{asks_fact!r} is no fact of facts.toml; add it there."
        )
    return asks_fact


def _read_asks(row: Row, references: References) -> Mapping[str, str]:
    """Read the sign's own words for further questions."""
    questions = row.table("asks") if row.has("asks") else {}
    for fact, question in questions.items():
        is_fact = fact in references.facts or fact in references.doubtful_facts
        if not is_fact:
            row.note_fault("asks", f"{fact!r} is no fact of facts.toml; add it there.")
        if not isinstance(question, str) or not question:
            row.note_fault("asks", f"the question about {fact} must be a text.")
    return MappingProxyType({fact: str(words) for fact, words in questions.items()})


def _read_rules(row: Row, references: References) -> tuple[Rule, ...]:
    rows = row.rows("rule", "rule")
    rules = read_rule_rows(rows, references)
    for rule_row, rule in zip(rows, rules, strict=True):
        for condition in rule.conditions:
            if condition.fact == "species":
                _check_species(rule_row, condition.values, references)
    used = {condition.fact for rule in rules for condition in rule.conditions}
    key = row.text("key")
    coded = bool(row.values.get("eppo")) or key in references.pests
    if "local_status" in used and not coded:
        row.note_fault(
            "eppo", f"local_status needs a code; add one, or {key!r} to pests.toml."
        )
    if not rows:
        row.note_fault("rule", "the last rule must have an empty if; add rules.")
    elif all(_is_whole(*pair) for pair in zip(rows, rules, strict=True)):
        for place, problem in rule_problems(rules, references.facts):
            rows[place].note_fault("if", problem)
    return rules


def _check_species(
    row: Row, values: tuple[object, ...], references: References
) -> None:
    for value in values:
        if value not in references.pests:
            row.note_fault(
                "if", f"species {value!r} is not in pests.toml; add it there."
            )


def _is_whole(row: Row, rule: Rule) -> bool:
    """Say whether a rule was read with all its conditions."""
    return row.is_sound("if") and len(row.table("if")) == len(rule.conditions)


def _read_alike(row: Row) -> Alike:
    alike = Alike(row.text("sign", ""), row.text("name"), row.text("tell"))
    row.finish()
    return alike

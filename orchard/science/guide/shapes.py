"""The guide in memory: frozen rows, and the guide that holds them all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from orchard.science.figures import Figure
from orchard.science.guide.rules import (
    Condition,
    Fact,
    Rule,
    SignStep,
    Value,
    all_hold,
)
from orchard.science.source import Source, Verification
from orchard.science.windows import Span, Trigger
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


@dataclass(frozen=True, slots=True)
class Alike:
    """Something easily mistaken for a sign; `sign` is "" when the guide has none."""

    sign: str
    name: str
    tell: str


@dataclass(frozen=True, slots=True)
class Plan:
    """What is done about a sign, what to mind, and which sign to look for as well."""

    steps: tuple[SignStep, ...]
    caution: tuple[str, ...]
    opens: str = ""


@dataclass(frozen=True, slots=True)
class Sign:
    """A pest, symptom, injury or normal event, its rules and the reasons for them."""

    key: str
    group: str
    name: str
    scientific: str
    eppo: tuple[str, ...]
    eppo_how: str
    # By host: those of its pests that matter there; all of them where none is named.
    eppo_on: Mapping[str, tuple[str, ...]]
    hosts: tuple[str, ...]
    parts: tuple[Part, ...]
    usual_sm: tuple[int, ...]
    common: int | None
    look_for: str
    # What people say who do not know its name.
    everyday: tuple[str, ...]
    why: str
    measure: Measure
    ask: str
    asks_fact: str
    asks: Mapping[str, str]
    second_look: bool
    positive: tuple[Condition, ...]
    steps: tuple[SignStep, ...]
    frost_exempt: bool
    young_exempt: bool
    do_not: tuple[str, ...]
    caution: tuple[str, ...]
    photos: tuple[str, ...]
    alike: tuple[Alike, ...]
    rules: tuple[Rule, ...]
    rule_plans: tuple[Plan, ...]
    sources: tuple[str, ...]
    how: Verification
    basis: str

    def rule_for(self, facts: Mapping[str, Value | None]) -> Rule:
        """Return the first rule that holds; the last one always does."""
        return next(rule for rule in self.rules if rule.truth(facts))

    def plan(self, place: int) -> Plan:
        """Return a plan by its place: 0 is the sign's own, its rules' follow."""
        return self.rule_plans[place - 1] if place else Plan(self.steps, self.caution)

    def plan_for(self, facts: Mapping[str, Value | None], verdict: Verdict) -> int:
        """Return the place among its plans of the one to follow.

        A report that no rule of the sign asks for has the sign's own steps.
        """
        rule = self.rule_for(facts)
        by_rule = verdict is not Verdict.REPORT or rule.verdict is Verdict.REPORT
        if not by_rule or not rule.has_own_plan:
            return 0
        return self.rule_plans.index(self._plan_of(rule)) + 1

    def _plan_of(self, rule: Rule) -> Plan:
        return Plan(rule.steps or self.steps, rule.caution or self.caution, rule.opens)

    def with_rules(self, rules: tuple[Rule, ...]) -> Sign:
        """Return this sign under other rules."""
        plans = (self._plan_of(rule) for rule in rules if rule.has_own_plan)
        return replace(self, rules=rules, rule_plans=tuple(dict.fromkeys(plans)))

    def fits(self, host: str) -> bool:
        """Say whether this sign is met on a host such as citrus or stone."""
        return "any" in self.hosts or host in self.hosts


@dataclass(frozen=True, slots=True)
class Pest:
    """An EPPO code, its taxon, and how it usually stands where fruit is grown."""

    code: str
    taxon: str
    usual_status: LocalStatus
    how: Verification

    @property
    def name(self) -> str:
        """The everyday name, or the taxon of a pest that has none."""
        name = self.taxon.rpartition("(")[2].rstrip(")") if "(" in self.taxon else ""
        return name[:1].upper() + name[1:] if name else self.taxon

    @property
    def scientific(self) -> str:
        """The taxon without the everyday name; nothing where it is all there is."""
        return self.taxon.rpartition("(")[0].strip()


@dataclass(frozen=True, slots=True)
class Tenderness:
    """A class of cold hardiness; air temperatures in °C, hardened tree, still night."""

    key: str
    name: str
    soft_growth_c: float
    wood_c: float
    mature_kill_c: float
    cover_at_c: float
    sources: tuple[str, ...]
    how: Verification


@dataclass(frozen=True, slots=True)
class Cultivar:
    """A named fruit; `ripe` is first and last season month, None when none is."""

    name: str
    kind: str
    group: str
    host: str
    ripe: tuple[int, int] | None
    hang_weeks: int
    tenderness: str
    maturity: str
    notes: str
    sources: tuple[str, ...]
    how: Verification

    @property
    def is_judged_by_colour(self) -> bool:
        """Say whether colour and scent tell when it is ripe, and no juice does."""
        return self.maturity == "colour"

    @property
    def ripe_months(self) -> tuple[int, ...]:
        """List the season months in which it is usually ripe, in their order."""
        if self.ripe is None:
            return ()
        first, last = self.ripe
        return tuple((first - 1 + n) % 12 + 1 for n in range((last - first) % 12 + 1))


@dataclass(frozen=True, slots=True)
class Rootstock:
    """The root half of a grafted tree, and what its leaf tells about a sucker."""

    name: str
    leaf: str
    habit: str
    cold: str
    foot_rot: str
    viruses: str
    heavy_soil: str
    lime: str
    salt: str
    poor_matches: tuple[str, ...]
    poor_words: str
    vigour: str
    use: str
    sources: tuple[str, ...]
    how: Verification

    @property
    def has_three_part_leaf(self) -> bool:
        """Say whether a three-part leaf is certain to be this rootstock's shoot."""
        return self.leaf == "three_part"

    def suits(self, cultivar: str) -> bool:
        """Say whether no trouble is on record for this cultivar on this root."""
        return cultivar not in self.poor_matches


@dataclass(frozen=True, slots=True)
class Stage:
    """A growth stage of citrus on the BBCH scale."""

    code: int
    principal: int
    meaning: str


@dataclass(frozen=True, slots=True)
class CareJob:
    """Work that comes back: to what it applies, what starts it, what proves it."""

    key: str
    name: str
    scope: JobScope
    who: str
    minutes: float
    # How often it usually comes in a year, where the trigger does not say, and when.
    turns: float | None
    busy: tuple[Span, ...]
    # Why it is off until somebody asks for it; empty for a job of the default plan.
    opt_in: str
    # A look at the tree does this work.
    seen_by_look: bool
    # The signs whose work is this job's work.
    signs: tuple[str, ...]
    tools: str
    evidence: str
    caution: str
    why: str
    # What visitors read that we do; empty where they are told nothing.
    for_visitors: str
    weight: Verdict
    applies: tuple[Condition, ...]
    applies_words: str
    trigger: Trigger
    not_while: tuple[NotWhile, ...]
    work: tuple[WorkKind, ...]
    roles: tuple[JobRole, ...]
    sources: tuple[str, ...]
    how: Verification

    def applies_to(self, facts: Mapping[str, Value | None]) -> bool | None:
        """Answer whether a tree gets this job; None while a fact is unknown."""
        return all_hold(self.applies, facts)


@dataclass(frozen=True, slots=True)
class HoldRule:
    """What a hold forbids: care jobs by their kind of work, and steps of a sign."""

    key: HoldKind
    work: tuple[WorkKind, ...]
    steps: tuple[StepKind, ...]
    # Whether work of every kind waits, what no kind is told of among it.
    all_work: bool
    sources: tuple[str, ...]
    how: Verification


@dataclass(frozen=True, slots=True)
class TreatmentType:
    """A kind of treatment: when it is plant protection, and what is asked of it.

    `jobs` are the care jobs whose work it does; those that are usual are offered first.
    """

    key: TreatmentKind
    name: str
    what: str
    protection: ProtectionRule
    asks: tuple[TreatmentAsk, ...]
    jobs: tuple[str, ...]
    caution: tuple[str, ...]
    is_usual: bool
    sources: tuple[str, ...]
    how: Verification


@dataclass(frozen=True, slots=True)
class Term:
    """A word of the trade and what it means.

    `forms` are its spellings in the guide's texts, `picture` a drawing by its place
    among the images, without ending; "" for none.
    """

    key: str
    name: str
    forms: tuple[str, ...]
    means: str
    picture: str
    sources: tuple[str, ...]
    how: Verification


@dataclass(frozen=True, slots=True)
class Region:
    """A part of the world in which pests stand much alike."""

    key: str
    name: str


@dataclass(frozen=True, slots=True)
class PestStanding:
    """How a pest stands by region: None where the authority is to be asked.

    `read` names, by region, the source of what was read; all else is from memory.
    """

    code: str
    by_region: Mapping[str, LocalStatus | None]
    read: Mapping[str, str]
    note: str


@dataclass(frozen=True, slots=True)
class Guide:
    """Everything the guide says, under one edition."""

    edition: str
    signs: Mapping[str, Sign]
    facts: Mapping[str, Fact]
    pests: Mapping[str, Pest]
    regions: Mapping[str, Region]
    standings: Mapping[str, PestStanding]
    tenderness: Mapping[str, Tenderness]
    cultivars: Mapping[str, Cultivar]
    rootstocks: Mapping[str, Rootstock]
    stages: Mapping[int, Stage]
    jobs: Mapping[str, CareJob]
    holds: Mapping[HoldKind, HoldRule]
    treatments: Mapping[TreatmentKind, TreatmentType]
    terms: Mapping[str, Term]
    figures: Mapping[str, Figure]
    sources: Mapping[str, Source]

    def treatments_of(self, job: str) -> tuple[TreatmentKind, ...]:
        """List the kinds of treatment whose record is that of a job's work."""
        rows = self.treatments.values()
        return tuple(row.key for row in rows if job in row.jobs)

    def common_signs(self, host: str = "citrus") -> tuple[Sign, ...]:
        """List the signs of a usual day, commonest first."""
        ranked = [sign for sign in self.signs.values() if sign.common is not None]
        ranked = [sign for sign in ranked if sign.fits(host)]
        return tuple(sorted(ranked, key=lambda sign: (sign.common or 0, sign.key)))

    def signs_in(self, season_month: int, host: str = "citrus") -> tuple[Sign, ...]:
        """List the signs usually met on a host in a season month."""
        return tuple(
            sign
            for sign in self.signs.values()
            if season_month in sign.usual_sm and sign.fits(host)
        )

    def job(self, role: JobRole) -> CareJob:
        """Return the job of a role that only one job can have."""
        [job] = self.jobs_with(role)
        return job

    def jobs_with(self, role: JobRole) -> tuple[CareJob, ...]:
        """List the jobs of a role in the guide's order."""
        return tuple(job for job in self.jobs.values() if role in job.roles)

    def name_of(self, sign: str) -> str:
        """Name a sign; one the guide no longer has keeps the words of its key."""
        row = self.signs.get(sign)
        return row.name if row is not None else sign.replace("_", " ")

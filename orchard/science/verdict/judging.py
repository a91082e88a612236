"""From a sign and its facts to a verdict: first match wins, nothing is guessed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from orchard.science.figures import figure
from orchard.science.guide import Condition, Guide, Rule, Sign, Value, check_rules, load
from orchard.science.verdict.facts import SignFacts, gather
from orchard.science.verdict.steps import VerdictStep, steps_for
from orchard.science.verdict.words import days, tell, tell_rule
from orchard.science.words import LocalStatus, StepKind, Verdict

NOTHING_LEAVES = "nothing_leaves_tree"
REVIEW_STEP = "The coordinator looks at this tree"
SUSPECTED = "Suspected is not confirmed: only a laboratory or the authority can say."
USUAL = (
    "The orchard has not said how this pest stands here, so the guide's usual standing "
    "was taken."
)
WORSE = "It was worse at the last two looks"


@dataclass(frozen=True, slots=True)
class RuleSet:
    """An orchard's own rule list for a sign, in full, signed and dated."""

    id: int | str
    sign: str
    rules: tuple[Rule, ...]
    author: str
    reason: str
    starts_on: date


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a finding calls for, and why.

    `due_days` counts local calendar days from the visit, 0 being the same day;
    `recheck_days` is when to look again. `because` holds sentences: the rule in words,
    its reason, and what else weighed in. `asks` names the one fact that would settle
    the rest. `rule` is the place in the list from 0, -1 for a rule of its own;
    `rule_id` reads "leafminer/1" or "house:12"; "G0" where a pest to
    report was seen, "G1" where a missing answer leaves worse possible. `facts` is what
    was looked at.
    """

    sign: str
    verdict: Verdict
    due_days: int | None
    recheck_days: int | None
    because: tuple[str, ...]
    rule: int
    rule_id: str
    edition: str
    asks: str | None = None
    steps: tuple[VerdictStep, ...] = ()
    holds: tuple[str, ...] = ()
    review: bool = False
    facts: tuple[tuple[str, Value], ...] = ()

    @property
    def headline_rank(self) -> tuple[int, int, int]:
        """Order judgements of one tree: the smallest is the one to show first."""
        due = 9999 if self.due_days is None else self.due_days
        recheck = 9999 if self.recheck_days is None else self.recheck_days
        return (-self.verdict.rank, due, recheck)


def decide(
    sign: str | Sign,
    facts: Mapping[str, object],
    house_rules: Iterable[RuleSet] = (),
    *,
    guide: Guide | None = None,
) -> Judgement:
    """Judge one sign on one tree.

    `facts` maps facts of the guide to values in their units; None or absent means
    unknown. `pest_status` may map EPPO codes to how they stand here; `local_status`
    gives it at once for all pests the sign is listed with; with neither, how they
    usually stand is taken, and `because` says so where it decides. `tree_state` is
    alive and `worse_in_row` 0 unless given. House rules of other signs are passed
    over; of several for this sign the one that starts last holds.

    Rules are tried in order and the first whose conditions all hold wins. Where a
    rule above it, with a graver verdict, hangs on an unknown fact, the verdict is
    watch and `asks` names that fact: an unknown never turns into leave while worse is
    possible. Three things stand over the rules: a pest that is absent or regulated
    here and really seen is reported within a day; a sign that grew worse twice
    running is watched, or reviewed by the coordinator; a lost tree is not judged.

    ValueError for an unknown sign or fact, an impossible value or a house rule that
    is not total; NotJudged for a dead, removed or rootstock-only tree.
    """
    guide = guide or load()
    return judge(guide, *ruling(guide, sign, house_rules), facts)


def judge(
    guide: Guide, sign: Sign, house: RuleSet | None, facts: Mapping[str, object]
) -> Judgement:
    """Judge a sign whose rules are already the ones that hold."""
    gathered = gather(guide, sign, facts)
    judged = _three_valued(guide, gathered, house)
    judged = _worse_again(judged, gathered)
    looked_at = tuple(sorted(gathered.facts.items()))
    steps = steps_for(sign, gathered.facts, judged.verdict)
    if judged.review:
        review_in = _whole_days("worse_review_days")
        steps = (VerdictStep(REVIEW_STEP, StepKind.PEOPLE, "", review_in), *steps)
    holds = (NOTHING_LEAVES,) if judged.verdict is Verdict.REPORT else ()
    return replace(judged, steps=steps, holds=holds, facts=looked_at)


def _whole_days(key: str) -> int:
    return round(figure(key).value)


def headline(judgements: Sequence[Judgement]) -> Judgement | None:
    """Choose the one to show for a tree: gravest verdict, then earliest due."""
    return min(judgements, key=lambda judged: judged.headline_rank, default=None)


def ruling(
    guide: Guide, sign: str | Sign, house_rules: Iterable[RuleSet]
) -> tuple[Sign, RuleSet | None]:
    """Find a sign with the rules that hold for it, and the house rule they are from."""
    if isinstance(sign, str):
        if sign not in guide.signs:
            raise ValueError(f"{sign!r} is no sign the guide knows.")
        sign = guide.signs[sign]
    mine = [house for house in house_rules if house.sign == sign.key]
    if not mine:
        return sign, None
    house = max(mine, key=lambda house: (house.starts_on, str(house.id)))
    check_rules(house.rules, guide.facts, f"house rule {house.id} for {sign.name}")
    return replace(sign, rules=house.rules), house


def first_rule(sign: Sign, gathered: SignFacts) -> Rule | None:
    """Give the rule that stands over the sign's own: a pest to report, really seen.

    Species are told apart through `species`; a sign without pests has no such rule.
    """
    if not gathered.needs_report:
        return None
    rechecks = [rule.recheck for rule in sign.rules if rule.recheck is not None]
    graver = [
        rule.recheck
        for rule in sign.rules
        if rule.verdict is Verdict.REPORT and rule.recheck is not None
    ]
    matched: tuple[Condition, ...] = ()
    if gathered.species_matter:
        matched = (Condition("species", " in", gathered.needs_report),)
    recheck = min(graver or rechecks, default=_whole_days("unsure_recheck_days"))
    conditions = (*sign.positive, *matched)
    return Rule(conditions, Verdict.REPORT, _whole_days("report_due_days"), recheck)


def _three_valued(
    guide: Guide, gathered: SignFacts, house: RuleSet | None
) -> Judgement:
    sign = gathered.sign
    over = first_rule(sign, gathered)
    rules = sign.rules if over is None else (over, *sign.rules)
    truths = [rule.truth(gathered.facts) for rule in rules]
    won = truths.index(True)
    winner = rules[won]
    undecided = [rules[n] for n in range(won) if truths[n] is None]
    graver = [rule for rule in undecided if rule.verdict.rank > winner.verdict.rank]
    shift = len(rules) - len(sign.rules)
    because = _because(guide, gathered, winner, over)
    if house is not None and winner is not over:
        signed = f"House rule of {house.author} since {house.starts_on}"
        because = (*because, f"{signed}: {house.reason}")
    judged = Judgement(
        sign=sign.key,
        verdict=winner.verdict,
        due_days=winner.due,
        recheck_days=winner.recheck,
        because=because,
        rule=won - shift,
        rule_id=_rule_id(sign, won - shift, house),
        edition=guide.edition,
    )
    if graver:
        return _unsure(guide, gathered, judged, graver)
    sooner = [
        rule
        for rule in undecided
        if rule.verdict is winner.verdict
        and rule.due is not None
        and rule.due < (winner.due or 0)
    ]
    asks = _asked(guide, gathered, min(sooner, key=_urgency)) if sooner else None
    return replace(judged, asks=asks)


def _rule_id(sign: Sign, place: int, house: RuleSet | None) -> str:
    if place < 0:
        return "G0"
    return f"house:{house.id}" if house else f"{sign.key}/{place}"


def _urgency(rule: Rule) -> tuple[int, int]:
    """Order rules by how grave they are, then by how soon they are due."""
    return (-rule.verdict.rank, rule.due if rule.due is not None else 9999)


def _because(
    guide: Guide, gathered: SignFacts, winner: Rule, over: Rule | None
) -> tuple[str, ...]:
    if winner is not over:
        return (tell_rule(winner, guide, gathered.sign), winner.because)
    species = gathered.facts.get("species")
    codes = (str(species),) if species in gathered.statuses else gathered.needs_report
    names = " or ".join(guide.pests[code].taxon for code in codes)
    standing = gathered.statuses[codes[0]]
    here = (
        "is not known here" if standing is LocalStatus.ABSENT else "is regulated here"
    )
    seen = "; ".join(
        tell(part, guide, gathered.sign) for part in gathered.sign.positive
    )
    due = days(_whole_days("report_due_days"))
    sentences = [
        f"This may be {names}, which {here}: Report {due}.",
        f"Seen: {seen or gathered.sign.name}.",
    ]
    own = next(rule for rule in gathered.sign.rules if rule.truth(gathered.facts))
    if own.verdict is Verdict.REPORT:
        sentences.append(own.because)
    sentences.append(SUSPECTED)
    if gathered.assumed.intersection(codes):
        sentences.append(USUAL)
    return tuple(sentences)


def _asked(guide: Guide, gathered: SignFacts, rule: Rule) -> str:
    """Choose the first fact a rule waits for that a person can be asked."""
    missing = [
        _root(gathered, condition.fact)
        for condition in rule.conditions
        if condition.truth(gathered.facts) is None
    ]
    askable = [name for name in missing if guide.facts[name].ask]
    return (askable or missing)[0]


def _root(gathered: SignFacts, fact: str) -> str:
    """Trace a pest's standing back to the species nobody has told apart."""
    return "species" if fact == "local_status" and gathered.statuses else fact


def _unsure(
    guide: Guide, gathered: SignFacts, winner: Judgement, graver: Sequence[Rule]
) -> Judgement:
    """Watch, and ask for the one fact on which the gravest open rule hangs."""
    open_rule = min(graver, key=lambda rule: -rule.verdict.rank)
    fact = _asked(guide, gathered, open_rule)
    question = (
        gathered.sign.ask if fact == gathered.sign.asks_fact else guide.facts[fact].ask
    )
    conditions = "; ".join(
        tell(part, guide, gathered.sign) for part in open_rule.conditions
    )
    rechecks = [rule.recheck for rule in graver] + [winner.recheck_days]
    recheck = min(
        (count for count in rechecks if count is not None),
        default=_whole_days("unsure_recheck_days"),
    )
    return replace(
        winner,
        verdict=Verdict.WATCH,
        due_days=None,
        recheck_days=recheck,
        because=(
            f"One answer is missing: {question or guide.facts[fact].words}",
            f"It would be {open_rule.verdict.label} if this held: {conditions}.",
            f"Otherwise: {winner.because[0]}",
        ),
        rule_id="G1",
        asks=fact,
    )


def in_short(because: Sequence[str], rule: str) -> str:
    """Return what says most of why, for one line of a list.

    That is the rule's own reason, or where no single rule decided (an answer is
    missing, a pest is suspected) what was concluded; and that it grew worse.
    """
    reason = because[1] if len(because) > 1 and rule not in ("G0", "G1") else ""
    reason = reason or "".join(because[:1])
    if len(because) > 1 and because[-1].startswith(WORSE) and because[-1] != reason:
        reason = f"{reason} {because[-1]}"
    return reason


def _worse_again(judged: Judgement, gathered: SignFacts) -> Judgement:
    """Raise leave to watch, and watch to a review, after two looks at which it grew."""
    worse = gathered.facts.get("worse_in_row", 0)
    if isinstance(worse, str) or worse < 2:
        return judged
    if judged.verdict is Verdict.LEAVE:
        return replace(
            judged,
            verdict=Verdict.WATCH,
            recheck_days=judged.recheck_days or _whole_days("worse_recheck_days"),
            because=(
                *judged.because,
                f"{WORSE}, so it is watched, not left.",
            ),
        )
    if judged.verdict is Verdict.WATCH:
        review_in = _whole_days("worse_review_days")
        return replace(
            judged,
            verdict=Verdict.ACT,
            due_days=review_in,
            review=True,
            because=(
                *judged.because,
                f"{WORSE}, so the coordinator reviews it {days(review_in)}.",
            ),
        )
    return judged

"""From a sign and its facts to a verdict: first match wins, nothing is guessed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from orchard.science.figures import figure
from orchard.science.guide import (
    Condition,
    Guide,
    Rule,
    Sign,
    Value,
    check_rules,
    load,
)
from orchard.science.verdict.facts import SignFacts, gather, question_about
from orchard.science.verdict.steps import (
    VerdictStep,
    frost_ends_in,
    steps_for,
    the_work,
)
from orchard.science.verdict.words import (
    after_last_frost,
    conclusion_text,
    conditions_text,
    due_text,
    rule_sentence,
)
from orchard.science.words import LocalStatus, StepKind, Verdict

NOTHING_LEAVES = "nothing_leaves_tree"
REVIEW_STEP = "The coordinator looks at this tree"
SUSPECTED = "Suspected is not confirmed: only a laboratory or the authority can say."
USUAL = (
    "The status of this pest here is not set: ask the authority. Until then the "
    "stricter rule counts."
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
    plan: int = 0
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
    rule above it, graver or due sooner, hangs on something nobody has looked for,
    `asks` names that fact and the verdict stands; only leave becomes watch, because
    worse is possible. What no visitor can see counts as not so. Three things stand
    over the rules: a pest that is absent or regulated here and really seen is reported
    within a day; a sign that grew worse twice running is watched, or reviewed by the
    coordinator; a lost tree is not judged. Work that waits for the last frost is due
    so many days after it.

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
    plan = sign.plan_for(gathered.facts, judged.verdict)
    steps = steps_for(sign, gathered.facts, judged.verdict, plan)
    judged = _after_frost(judged, gathered, steps)
    if judged.review:
        review_in = _whole_days("worse_review_days")
        steps = (VerdictStep(REVIEW_STEP, StepKind.PEOPLE, "", review_in), *steps)
    holds = (NOTHING_LEAVES,) if judged.verdict is Verdict.REPORT else ()
    return replace(judged, steps=steps, plan=plan, holds=holds, facts=looked_at)


def _after_frost(
    judged: Judgement, gathered: SignFacts, steps: Sequence[VerdictStep]
) -> Judgement:
    """Count the due days from the last frost on where the work must wait for it."""
    work = the_work(steps)
    due = judged.due_days
    if judged.verdict is not Verdict.ACT or judged.review or due is None:
        return judged
    if work is None or not work.after_frost:
        return judged
    first, *others = judged.because
    return replace(
        judged,
        due_days=due + frost_ends_in(gathered.facts),
        because=(first.replace(due_text(due), after_last_frost(due)), *others),
    )


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
    return sign.with_rules(house.rules), house


def first_rule(sign: Sign, gathered: SignFacts) -> Rule | None:
    """Give the rule that stands over the sign's own: a pest to report, really seen.

    A sign without such a pest has no such rule.
    """
    if not gathered.to_report:
        return None
    rechecks = [rule.recheck for rule in sign.rules if rule.recheck is not None]
    graver = [
        rule.recheck
        for rule in sign.rules
        if rule.verdict is Verdict.REPORT and rule.recheck is not None
    ]
    recheck = min(graver or rechecks, default=_whole_days("unsure_recheck_days"))
    due = _whole_days("report_due_days")
    return Rule(sign.positive, Verdict.REPORT, due, recheck)


def _three_valued(
    guide: Guide, gathered: SignFacts, house: RuleSet | None
) -> Judgement:
    sign = gathered.sign
    over = first_rule(sign, gathered)
    rules = sign.rules if over is None else (over, *sign.rules)
    truths = [rule.truth(gathered.facts, gathered.never_asked) for rule in rules]
    won = truths.index(True)
    winner = rules[won]
    undecided = [rules[n] for n in range(won) if truths[n] is None]
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
    urgent = [rule for rule in undecided if _urgency(rule) < _urgency(winner)]
    if urgent:
        reached = _within_reach(undecided, gathered)
        worth_asking = [rule for rule in urgent if rule in reached] or urgent
        judged = _asking(guide, gathered, judged, min(worth_asking, key=_urgency))
    return judged


def _within_reach(undecided: Sequence[Rule], gathered: SignFacts) -> list[Rule]:
    """Leave out the rules before which another would hold, whatever is answered."""
    opens: list[set[Condition]] = []
    found = []
    for rule in undecided:
        unknown = {
            condition
            for condition in rule.conditions
            if condition.truth(gathered.facts) is None
        }
        if not any(earlier <= unknown for earlier in opens):
            found.append(rule)
        opens.append(unknown)
    return found


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
        return (rule_sentence(winner, gathered.sign, guide), winner.because)
    codes = gathered.to_report
    names = " or ".join(guide.pests[code].taxon for code in codes)
    standing = gathered.statuses[codes[0]]
    here = (
        "is not known here" if standing is LocalStatus.ABSENT else "is regulated here"
    )
    sign = gathered.sign
    seen = sign.name
    if sign.positive:
        seen = conditions_text(sign.positive, sign, guide)
    due = due_text(_whole_days("report_due_days"))
    sentences = [
        f"This may be {names}, which {here}: Report {due}.",
        f"Seen: {seen}.",
    ]
    own = sign.rule_for(gathered.facts)
    if own.verdict is Verdict.REPORT:
        sentences.append(own.because)
    sentences.append(SUSPECTED)
    if gathered.assumed.intersection(codes):
        sentences.append(USUAL)
    return tuple(sentences)


def _asking(
    guide: Guide, gathered: SignFacts, judged: Judgement, open_rule: Rule
) -> Judgement:
    """Add the one question on which the most urgent open rule hangs.

    What was earned with what is known stands; only leave becomes watch.
    """
    fact = next(
        condition.fact
        for condition in open_rule.conditions
        if condition.truth(gathered.facts) is None
    )
    question = question_about(guide, gathered.sign, fact)
    conditions = conditions_text(open_rule.conditions, gathered.sign, guide)
    sooner = "sooner " if open_rule.verdict is judged.verdict else ""
    missing = (
        f"One answer is missing: {question}",
        f"It would be {open_rule.verdict.label} {sooner}if this held: {conditions}.",
    )
    if judged.verdict is not Verdict.LEAVE:
        return replace(judged, because=(*judged.because, *missing), asks=fact)
    winner = gathered.sign.rules[judged.rule]
    otherwise = judged.because[0]
    if winner.is_unconditional:
        otherwise = f"{conclusion_text(winner)}."
    return replace(
        judged,
        verdict=Verdict.WATCH,
        recheck_days=_whole_days("unsure_recheck_days"),
        because=(*missing, f"Otherwise: {otherwise}"),
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
    worse = next((text for text in because if text.startswith(WORSE)), reason)
    return reason if worse == reason else f"{reason} {worse}"


def _with_worse(judged: Judgement, sentence: str) -> tuple[str, ...]:
    """Add that it grew worse, before the two sentences on a missing answer."""
    asks = judged.asks is not None and judged.rule_id != "G1"
    place = len(judged.because) - (2 if asks else 0)
    return (*judged.because[:place], sentence, *judged.because[place:])


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
            because=_with_worse(judged, f"{WORSE}, so it is watched, not left."),
        )
    if judged.verdict is Verdict.WATCH:
        review_in = _whole_days("worse_review_days")
        return replace(
            judged,
            verdict=Verdict.ACT,
            due_days=review_in,
            review=True,
            because=_with_worse(
                judged, f"{WORSE}, so the coordinator reviews it {due_text(review_in)}."
            ),
        )
    return judged

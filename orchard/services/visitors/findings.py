"""Findings that anybody may read of; never one that could tell of a suspicion."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from orchard.records.models import Finding, Inspection, Orchard, SecondLook, Task, Tree
from orchard.science import guide
from orchard.science.guide import Sign
from orchard.science.words import LocalStatus, Verdict
from orchard.services import house_rules


@dataclass(frozen=True, slots=True)
class PublicFinding:
    """What was seen on a tree and still matters, in the words of the guide."""

    name: str
    verdict: Verdict
    because: str
    why: str
    seen_on: date


def findings_now(tree: Tree, signs: Mapping[str, Sign]) -> tuple[PublicFinding, ...]:
    """List what is seen on a tree now, the gravest first; one line a sign.

    What still has open work, and what the last check found to be normal. What nobody
    has confirmed that was asked to is left out, and every sign but those given.
    """
    tasks = Task.objects.open().not_private().filter(tree=tree)
    last = Inspection.objects.current().checks().filter(tree=tree).newest_first()
    rows = (
        Finding.objects.current()
        .filter(tree=tree, private=False, sign__in=signs)
        .filter(
            Q(pk__in=tasks.exclude(finding=None).values("finding"))
            | Q(inspection=last.values("pk")[:1], verdict=Verdict.LEAVE)
        )
        .exclude(
            Q(second_look__isnull=False)
            & ~Q(second_look__answer=SecondLook.Answer.AGREED)
        )
        .select_related("inspection")
        .order_by("pk")
    )
    newest = {row.sign: row for row in rows}
    found = [
        _in_its_words(row, signs[row.sign])
        for row in newest.values()
        if row.standing_verdict is not Verdict.REPORT
    ]
    return tuple(sorted(found, key=lambda row: (-row.verdict.rank, row.name)))


def signs_for_all(orchard: Orchard, today: date) -> dict[str, Sign]:
    """Return the signs that visitors may read of, under the rules that hold here.

    None that can ever be a case for the authority: no rule of it says to report, and
    each of its pests is confirmed as common here.
    """
    statuses = house_rules.confirmed_status(orchard)
    rules = house_rules.holding(orchard, today)
    return {
        key: sign
        for key, sign in guide.load().signs.items()
        if all(rule.verdict is not Verdict.REPORT for rule in sign.rules)
        and all(
            rule.verdict is not Verdict.REPORT
            for rule in (rules[key].rules if key in rules else ())
        )
        and all(statuses.get(code) == LocalStatus.COMMON for code in sign.eppo)
    }


def _in_its_words(row: Finding, sign: Sign) -> PublicFinding:
    """Say a finding in the guide's words: no house rule, no reason of a person."""
    by_guide = row.rule.startswith(f"{row.sign}/") and not row.override
    because = row.because[1] if by_guide and len(row.because) > 1 else ""
    return PublicFinding(
        name=sign.name,
        verdict=row.standing_verdict,
        because=because,
        why=sign.why,
        seen_on=row.inspection.seen_on,
    )

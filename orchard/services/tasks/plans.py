"""What is done about a finding: the steps and cautions of the rule that matched."""

from __future__ import annotations

from orchard.records.models import Finding, Task
from orchard.science.guide import Rule, Sign
from orchard.science.words import Verdict


def plan_place(kind: str, sign: Sign, finding: Finding | None) -> int:
    """Return the place among a sign's plans of the one that a finding calls for."""
    if finding is None or _by_house_rule(finding):
        return 0
    verdict = Verdict.REPORT if kind == Task.Kind.REPORT else Verdict.ACT
    return sign.plan_for(finding.facts, verdict)


def matched_rule(sign: Sign, finding: Finding) -> Rule | None:
    """Return the guide's rule that a finding matched, None under a house rule."""
    return None if _by_house_rule(finding) else sign.rule_for(finding.facts)


def _by_house_rule(finding: Finding) -> bool:
    return finding.rule.startswith("house:")

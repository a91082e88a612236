"""An inspection as its page tells it: what was seen, concluded, done and corrected."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import (
    Case,
    Closure,
    Finding,
    Inspection,
    Membership,
    Photo,
    SecondLook,
    Task,
)
from orchard.science import guide
from orchard.science.guide import Fact, Sign
from orchard.science.source import cite
from orchard.science.verdict import VerdictStep, steps_for
from orchard.science.words import Verdict
from orchard.services import inspections, permissions, timeline
from orchard.services.cases import cases_on
from orchard.services.errors import NotThere
from orchard.services.permissions import Deed
from orchard.services.photos import current_photos
from orchard.services.tasks import tasks_of_findings
from orchard.services.timeline import DoneBefore
from orchard.web.pages.inspections.sign_blocks import part_word

# Less is the time a message takes; more is told beside the time that was meant.
CLOCK_TOLD = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class FindingStory:
    """One finding with all that explains it."""

    finding: Finding
    name: str
    part: str
    amount: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str], ...]
    rule: str
    asks: str
    steps: tuple[VerdictStep, ...]
    cautions: tuple[str, ...]
    do_not: tuple[str, ...]
    sources: tuple[str, ...]
    photos: tuple[Photo, ...]
    tasks: tuple[Task, ...]
    # Nobody is late with what was done, taken over by a newer look, or put off.
    is_work_open: bool
    is_look_open: bool
    look: SecondLook | None
    case: Case | None
    newer_guide: bool


@dataclass(frozen=True, slots=True)
class Story:
    """An inspection, its versions and what followed."""

    inspection: Inspection
    findings: tuple[FindingStory, ...]
    note: str
    why_corrected: str
    why_withdrawn: str
    photos: tuple[Photo, ...]
    closures: tuple[Closure, ...]
    earlier: Inspection | None
    later: Inspection | None
    days_late: int
    done_before: tuple[DoneBefore, ...]
    may_change: bool
    may_override: bool
    may_see_private: bool

    @property
    def reports(self) -> bool:
        """Whether something here is to be reported and has not been answered yet."""
        return self.inspection.is_current and any(
            finding_story.finding.standing_verdict is Verdict.REPORT
            and (finding_story.case is None or finding_story.case.closed_at is None)
            for finding_story in self.findings
        )

    @property
    def moved_to(self) -> str:
        """Return the tree that this version was moved away to, by its code."""
        return self._other_tree(self.later)

    @property
    def moved_from(self) -> str:
        """Return the tree that this version was moved here from, by its code."""
        return self._other_tree(self.earlier)

    def _other_tree(self, version: Inspection | None) -> str:
        if version is None or version.tree_id == self.inspection.tree_id:
            return ""
        return version.tree.code

    @property
    def clock_off(self) -> str:
        """Say how far the phone's clock was off, when it was more than a little."""
        seconds = self.inspection.offset_seconds
        minutes = round(abs(seconds) / 60)
        if abs(seconds) <= CLOCK_TOLD.total_seconds():
            return ""
        words = ngettext("%(count)d minute", "%(count)d minutes", minutes)
        if minutes >= 120:
            hours = round(minutes / 60)
            words = ngettext("%(count)d hour", "%(count)d hours", hours)
            minutes = hours
        duration = words % {"count": minutes}
        if seconds > 0:
            return _("The phone's clock was %(time)s slow.") % {"time": duration}
        return _("The phone's clock was %(time)s fast.") % {"time": duration}

    def must_be_changeable(self, member: Membership) -> Inspection:
        """Return the inspection, or refuse who may not change it while it stands.

        Raises:
            MayNot (not_yours): it is another's and the member does not lead.
        """
        if self.inspection.is_current:
            permissions.require_own(member, self.inspection)
        return self.inspection


def story_of(member: Membership, inspection: Inspection) -> Story:
    """Tell an inspection to a member, without what is private to others.

    Raises:
        NotThere: nothing of it is for this member.
    """
    rows = list(
        inspection.findings.select_related("inspection", "override_by").order_by("pk")
    )
    seen = [row for row in rows if permissions.sees(member, row)]
    hides = inspection.has_private and not _sees_private(member, inspection)
    if hides and not seen:
        raise NotThere()
    photos = [
        photo for photo in current_photos(inspection) if permissions.sees(member, photo)
    ]
    tasks = tasks_of_findings(seen)
    looks = inspections.second_looks_of(seen)
    earlier = inspections.earlier_version(inspection)
    cases = cases_on(inspection.tree, member)
    return Story(
        inspection=inspection,
        findings=tuple(
            _finding(row, photos, tasks, looks.get(row.pk), cases.get(row.sign))
            for row in seen
        ),
        note="" if hides else inspection.note,
        photos=tuple(photo for photo in photos if not photo.findings.all()),
        closures=tuple(
            closure
            for closure in inspection.closures.filter(undone_at=None)
            .select_related("task")
            .order_by("pk")
            if not closure.task.private or permissions.may(member, Deed.SEE_PRIVATE)
        ),
        why_corrected=_why_corrected(member, inspection, earlier),
        why_withdrawn="" if hides else inspection.withdrawn_reason,
        earlier=earlier,
        later=inspections.later_version(inspection),
        days_late=_days_late(inspection),
        done_before=tuple(
            timeline.done_before(
                inspection.also_ticked,
                sees_private=permissions.may(member, Deed.SEE_PRIVATE),
            ).values()
        ),
        may_change=inspection.is_current and permissions.is_own(member, inspection),
        may_override=inspection.is_current
        and permissions.may(member, Deed.CORRECT_OTHERS),
        may_see_private=permissions.may(member, Deed.SEE_PRIVATE),
    )


def _days_late(inspection: Inspection) -> int:
    """Return how many days after the look it came in, by the orchard's own days."""
    zone = ZoneInfo(inspection.orchard.time_zone)
    came_on = inspection.received_at.astimezone(zone).date()
    return max(0, (came_on - inspection.seen_on).days)


def _why_corrected(
    member: Membership, inspection: Inspection, earlier: Inspection | None
) -> str:
    """Return why it was corrected, unless that tells of a private finding."""
    for version in filter(None, (earlier, inspection)):
        if version.has_private and not _sees_private(member, version):
            return ""
    return inspection.correction_reason


def _sees_private(member: Membership, inspection: Inspection) -> bool:
    return inspection.by_id == member.user_id or permissions.may(
        member, Deed.SEE_PRIVATE
    )


def _finding(
    finding: Finding,
    photos: Iterable[Photo],
    tasks: Iterable[Task],
    look: SecondLook | None,
    case: Case | None,
) -> FindingStory:
    book = guide.load()
    sign = book.signs.get(finding.sign)
    facts = {key: value for key, value in finding.facts.items() if key in book.facts}
    standing = Verdict(finding.standing_verdict)
    mine = tuple(task for task in tasks if task.finding_id == finding.pk)
    open_kinds = {task.kind for task in mine if task.closed_at is None}
    return FindingStory(
        finding=finding,
        name=sign.name if sign else finding.sign,
        part=part_word(finding.part),
        amount=tuple(_in_words(finding.answers, finding.typed)),
        facts=tuple(
            _in_words({key: facts[key] for key in _looked_at(sign, facts)}, {})
        ),
        rule=_rule(finding.rule),
        asks=_asked(sign, finding.asks),
        steps=steps_for(sign, facts, standing)
        if sign and standing in (Verdict.ACT, Verdict.REPORT)
        else (),
        cautions=sign.plan(sign.plan_for(facts, standing)).caution if sign else (),
        do_not=sign.do_not if sign else (),
        sources=tuple(cite(book.sources[key]) for key in sign.sources) if sign else (),
        photos=tuple(photo for photo in photos if finding in photo.findings.all()),
        tasks=mine,
        is_work_open=any(kind != Task.Kind.LOOK for kind in open_kinds),
        is_look_open=Task.Kind.LOOK in open_kinds,
        look=look,
        case=case if finding.private else None,
        newer_guide=finding.edition != book.edition,
    )


def _looked_at(sign: Sign | None, facts: dict[str, Any]) -> list[str]:
    """Return the facts that the sign's rules ask about, in the order kept."""
    if sign is None:
        return list(facts)
    asked = {row.fact for rule in sign.rules for row in rule.conditions}
    asked |= {row.fact for row in sign.positive} | {"local_status"}
    return [key for key in facts if key in asked]


def _asked(sign: Sign | None, key: str) -> str:
    if not key:
        return ""
    if sign and key == sign.asks_fact:
        return sign.ask
    fact = guide.load().facts.get(key)
    return fact.ask if fact else key


def _rule(rule: str) -> str:
    """Name the rule that decided."""
    match rule.split("/"):
        case ["G0"]:
            return _("Rule for pests that must be reported")
        case ["G1"]:
            return _(
                "Rule for a missing answer: never Leave while a graver verdict is "
                "possible"
            )
        case [_sign, place] if place.isdigit():
            return _("Rule %(number)d of this sign") % {"number": int(place) + 1}
    if rule.startswith("house:"):
        return _("House rule of this orchard")
    return rule


def _in_words(
    values: dict[str, Any], typed: dict[str, Any]
) -> Iterable[tuple[str, str]]:
    book = guide.load().facts
    for key, value in values.items():
        fact = book.get(key)
        if fact is None:
            continue
        words = f"{fact.words[:1].upper()}{fact.words[1:]}"
        yield words, _value(fact, value, typed.get(key))


def _value(fact: Fact, value: Any, typed: Any) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, int | float):
        figure = f"{value:g} {fact.unit}".strip()
        if typed:
            given = f"{typed['value']} {typed['unit']}"
            return _("%(given)s (%(si)s)") % {"given": given, "si": figure}
        return figure
    pest = guide.load().pests.get(str(value))
    return pest.taxon if pest else str(value)

"""Looking: what a person brings from a tree, checked and judged before it is kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import Finding, Round, Tree, User
from orchard.services import facts
from orchard.services.errors import Refused
from orchard.services.inspections import judgement
from orchard.services.inspections.judgement import Judged
from orchard.services.partial_days import when_planted
from orchard.services.photos import Picture
from orchard.services.tasks import work_done_at

# Two clocks never agree to the second.
CLOCK_SLACK = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class SeenSign:
    """A sign as a person saw it: answers in SI units, `typed` as they were written."""

    sign: str
    answers: Mapping[str, Any] = field(default_factory=dict)
    typed: Mapping[str, Any] = field(default_factory=dict)
    part: str = ""
    sure: bool = True
    note: str = ""
    pictures: Sequence[Picture] = ()
    # What it calls for was done at once.
    done: bool = False


@dataclass(frozen=True, slots=True)
class Arrival:
    """How a look came in: on which round, and by how much the phone's clock was off.

    A newer version of a look keeps when the first one came in; one that is only moved
    to another tree keeps whose look it was, too, and who wrote it down.
    """

    offset_seconds: int = 0
    round: Round | None = None
    received_at: datetime | None = None
    seen_by: User | None = None
    written_by: User | None = None
    also_ticked: tuple[int, ...] = ()
    # Photos of the look come after it, each by itself.
    photos_follow: bool = False


@dataclass(frozen=True, slots=True)
class Submission:
    """What a person brings from one look at a tree, not yet checked or judged."""

    seen_at: datetime
    made_at: datetime | None = None
    findings: tuple[SeenSign, ...] = ()
    all_well: bool = False
    condition: int | None = None
    bbch: int | None = None
    note: str = ""
    pictures: tuple[Picture, ...] = ()
    done_tasks: tuple[int, ...] = ()
    # Of a look that is corrected: its day, on which the tree did take it.
    taken_on: date | None = None

    def seen_on(self, tree: Tree) -> date:
        """Return the day of the look, by its orchard's own calendar."""
        return day_in(self.seen_at, tree.orchard.time_zone)

    def by_our_clock(self, offset: timedelta, now: datetime) -> Submission:
        """Return it with the day of the look put right for a phone's wrong clock."""
        if not offset:
            return self
        return replace(self, seen_at=min(self.seen_at + offset, now))


@dataclass(frozen=True, slots=True)
class Look:
    """All that one look at a tree brought, checked and ready to be written."""

    seen_at: datetime
    made_at: datetime
    findings: tuple[tuple[SeenSign, Judged], ...]
    all_well: bool
    condition: int | None
    note: str
    bbch: int | None
    pictures: tuple[Picture, ...]
    done_tasks: tuple[int, ...]

    @property
    def every_picture(self) -> tuple[Picture, ...]:
        """Give the pictures of the tree and those of its signs."""
        of_signs = (p for seen, _judged in self.findings for p in seen.pictures)
        return (*self.pictures, *of_signs)

    def seen_on(self, tree: Tree) -> date:
        return day_in(self.seen_at, tree.orchard.time_zone)


def look_of(
    tree: Tree,
    submission: Submission,
    *,
    now: datetime,
    before_pk: int | None = None,
    site: facts.Site | None = None,
    earlier: facts.EarlierFindings | None = None,
) -> Look:
    """Check what a look brought and judge it, without writing anything.

    The form uses it to read the verdict before saving. Looks of one day at many trees
    share a `site`; `earlier` are the findings of its tree up to then. Raises as
    `record` does.
    """
    for fault in faults_of(tree, submission, now=now):
        raise fault
    seen_on = submission.seen_on(tree)
    noted = facts.stage_facts(submission.bbch) if submission.bbch is not None else {}
    noted |= judgement.about_tree(seen.answers for seen in submission.findings)
    ground = (
        facts.gather(
            tree,
            on=seen_on,
            before_pk=before_pk,
            site=site if site is not None and site.on == seen_on else None,
            earlier=earlier,
            as_growing=seen_on == submission.taken_on,
        )
        if submission.findings
        else None
    )
    return Look(
        seen_at=submission.seen_at,
        made_at=submission.made_at or now,
        findings=tuple(
            (seen, judgement.judge(ground, seen.sign, seen.answers, noted=noted))
            for seen in submission.findings
            if ground is not None
        ),
        all_well=submission.all_well,
        condition=submission.condition,
        note=submission.note.strip(),
        bbch=submission.bbch,
        pictures=tuple(submission.pictures),
        done_tasks=tuple(dict.fromkeys(submission.done_tasks)),
    )


def faults_of(
    tree: Tree, submission: Submission, *, now: datetime
) -> Iterator[Refused]:
    """Yield everything that is wrong with what a look brought, without a query.

    What only the tree's history or the orchard's own rules can tell is refused when
    the look is judged.
    """
    seen_on = submission.seen_on(tree)
    closed = why_closed(tree, on=seen_on)
    # What a tree took on the day of its end may be corrected afterwards.
    if closed is not None and seen_on != submission.taken_on:
        yield closed
    yield from _faults_of_day(tree, submission.seen_at, seen_on, now)
    condition, bbch = submission.condition, submission.bbch
    if condition is not None and condition not in range(1, 6):
        yield Refused(
            _("Condition goes from 1 (dying) to 5 (thriving)."),
            code="bad_condition",
            field="condition",
        )
    if submission.all_well and submission.findings:
        yield Refused(
            _("It says all is well and also names a sign. Remove one of the two."),
            code="well_with_sign",
            field="all_well",
        )
    if bbch is not None and bbch not in range(100):
        yield Refused(
            _("A growth stage is a number from 0 to 99."),
            code="bad_answer",
            field="bbch",
        )
    signs = [seen.sign for seen in submission.findings]
    if len(set(signs)) < len(signs):
        yield Refused(
            _("A sign is on this form twice. Record it once."),
            code="sign_twice",
            field="sign",
        )


def _faults_of_day(
    tree: Tree, seen_at: datetime, seen_on: date, now: datetime
) -> Iterator[Refused]:
    if seen_at > now + CLOCK_SLACK:
        yield Refused(
            _("That time is in the future. Check the day and time."),
            code="seen_in_future",
            field="seen_at",
        )
    if tree.planted_on and seen_on < tree.planted_on:
        yield Refused(
            _(
                "%(tree)s was planted %(when)s, after this inspection. Check the day, "
                "or the tree."
            )
            % {"tree": tree.code, "when": when_planted(tree)},
            code="seen_before_planted",
            field="seen_at",
        )


def why_closed(tree: Tree, *, on: date) -> Refused | None:
    """Return why a tree takes no verdicts on a day, or None where it does.

    It is dead, removed, or only its rootstock lives (no_verdicts). A look from before
    its end still comes in late; no work follows from it.
    """
    if tree.state_on(on) == Tree.State.GROWING:
        return None
    return Refused(
        _(
            "%(tree)s is marked “%(state)s”: it can't be inspected. If that is wrong, "
            "a crew lead can correct the tree."
        )
        % {"tree": tree.code, "state": tree.get_state_display()},
        code="no_verdicts",
    )


def says_nothing(look: Look) -> bool:
    """Tell whether a look says nothing of its tree, photos left aside."""
    return not (
        look.findings
        or look.all_well
        or look.condition
        or look.note
        or look.done_tasks
        or look.bbch is not None
    )


def as_seen(finding: Finding) -> SeenSign:
    """Return a finding as it was seen, to be judged again."""
    return SeenSign(
        sign=finding.sign,
        answers=finding.answers,
        typed=finding.typed,
        part=finding.part,
        sure=finding.sure,
        note=finding.note,
        done=work_done_at(finding.inspection).filter(task__finding=finding).exists(),
    )

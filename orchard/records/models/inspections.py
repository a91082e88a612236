"""What was seen of a tree: inspections, their findings, second looks."""

from __future__ import annotations

import uuid
from functools import cache
from typing import Any, Self

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import (
    Correctable,
    CorrectableQuerySet,
    correction_is_explained,
    only,
    withdrawal_is_whole,
    word,
    writer,
    writer_is_another,
)
from orchard.records.models.cases import Case
from orchard.science.words import Verdict


class InspectionQuerySet(CorrectableQuerySet["Inspection"]):
    def newest_first(self) -> Self:
        return self.order_by("-seen_at", "-id")

    def checks(self) -> Self:
        """Only looks that say how the tree is."""
        return self.filter(photo_only=False)


class Inspection(Correctable):
    """One look at one tree by one person at one time."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    tree = models.ForeignKey(
        "Tree", on_delete=models.PROTECT, related_name="inspections", db_index=False
    )
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="inspections")
    written_by = writer()
    # One key for each form: the same form sent twice is one inspection.
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    seen_on = models.DateField(_("seen on"))
    seen_at = models.DateTimeField()
    made_at = models.DateTimeField()
    received_at = models.DateTimeField()
    all_well = models.BooleanField(default=False)
    condition = models.PositiveSmallIntegerField(_("condition"), null=True, blank=True)
    note = models.TextField(_("note"), blank=True)
    has_private = models.BooleanField(default=False)
    # What the phone's clock was off by, as measured when it sent; seen_at is mended.
    offset_seconds = models.IntegerField(default=0)
    round = models.ForeignKey(
        "Round",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="inspections",
    )
    # Tasks ticked off here that somebody else had closed before.
    also_ticked = models.JSONField(default=list, blank=True)
    # A photo without a word: nobody said how the tree is, so it is no check of it.
    photo_only = models.BooleanField(default=False)

    objects = InspectionQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            writer_is_another(),
            models.CheckConstraint(
                condition=Q(condition=None) | Q(condition__gte=1, condition__lte=5),
                name="inspection_condition_one_to_five",
            ),
            models.CheckConstraint(
                condition=Q(photo_only=False)
                | Q(all_well=False, condition=None, note=""),
                name="inspection_photo_only_says_nothing",
            ),
        ]
        indexes = [
            models.Index(fields=["tree", "-seen_at", "-id"]),
            models.Index(fields=["orchard", "-seen_at", "-id"]),
            models.Index(
                fields=["tree", "-seen_on", "-id"],
                condition=Q(condition__isnull=False),
                name="inspection_scored",
            ),
            # What came in today, of all that ever did.
            models.Index(
                fields=["orchard", "received_at"],
                condition=Q(withdrawn_at=None, superseded_at=None),
                name="inspection_received",
            ),
        ]

    def __str__(self) -> str:
        return f"inspection {self.pk} of tree {self.tree_id} on {self.seen_on}"

    @property
    def entered_by(self) -> Any:
        """Return who put it in the book: who saw it, or who wrote it down."""
        return self.written_by or self.by


class FindingQuerySet(models.QuerySet["Finding"]):
    def current(self) -> Self:
        return self.filter(
            inspection__superseded_at=None, inspection__withdrawn_at=None
        )

    def in_orchard(self, orchard: Any) -> Self:
        return self.filter(tree__orchard=orchard)

    def with_verdict(self, verdict: str) -> Self:
        """Only findings with a verdict, a person's before the book's."""
        return self.filter(Q(override=verdict) | Q(override="", verdict=verdict))

    def with_sureness(self, *, with_cases: bool) -> Self:
        """Add how sure the name of the sign is (`Finding.Sureness`), as `sureness`.

        Without cases their answers count for nothing, for those who may not know them.
        """
        return self.annotate(sureness=_sureness(with_cases=with_cases))


@cache
def _sureness(*, with_cases: bool) -> models.Case:
    """Return how sure the name of a finding's sign is; each query makes it its own."""
    before = OuterRef("inspection__corrects")
    renamed = Exists(
        SecondLook.objects.filter(
            answer=SecondLook.Answer.OTHER, finding__inspection=before
        )
    ) & ~Exists(Finding.objects.filter(inspection=before, sign=OuterRef("sign")))
    answered = Case.objects.filter(
        tree=OuterRef("tree"),
        sign=OuterRef("sign"),
        closed_at__gte=OuterRef("inspection__seen_at"),
    )
    named_by_two = Q(second_look__answer=SecondLook.Answer.AGREED) | renamed
    open_answers = ("", SecondLook.Answer.UNSETTLED)
    in_doubt = Q(second_look__answer__in=open_answers) | Q(sure=False, second_look=None)
    steps = [
        models.When(named_by_two, then=models.Value(Finding.Sureness.TWO)),
        models.When(in_doubt, then=models.Value(Finding.Sureness.DOUBT)),
    ]
    if with_cases:
        by_authority = models.Value(Finding.Sureness.AUTHORITY)
        steps.insert(0, models.When(Exists(answered), then=by_authority))
    return models.Case(
        *steps,
        default=models.Value(Finding.Sureness.ONE),
        output_field=models.CharField(),
    )


class Finding(models.Model):
    """A sign seen at an inspection, with the verdict it was given on the day."""

    class Sureness(models.TextChoices):
        AUTHORITY = "authority", _("answered by the authority")
        TWO = "two", _("second look agreed")
        ONE = "one", _("seen by one person")
        DOUBT = "doubt", _("not sure")

    inspection = models.ForeignKey(
        Inspection, on_delete=models.PROTECT, related_name="findings"
    )
    tree = models.ForeignKey(
        "Tree", on_delete=models.PROTECT, related_name="findings", db_index=False
    )
    sign = models.CharField(max_length=40)
    part = models.CharField(max_length=24, blank=True)
    # What the person answered, fact by fact; numbers in SI, `typed` as they wrote it.
    answers = models.JSONField(default=dict, blank=True)
    typed = models.JSONField(default=dict, blank=True)
    sure = models.BooleanField(default=True)
    note = models.TextField(blank=True)
    # The judgement, kept as given: a later guide rewrites no history.
    verdict = word(Verdict)
    due_on = models.DateField(null=True, blank=True)
    recheck_on = models.DateField(null=True, blank=True)
    because = models.JSONField(default=list)
    rule = models.CharField(max_length=60)
    edition = models.CharField(max_length=40)
    facts = models.JSONField(default=dict)
    asks = models.CharField(max_length=40, blank=True)
    # An override needs a name and a reason; the computed verdict stays beside it.
    override = models.CharField(max_length=24, blank=True)
    override_reason = models.CharField(max_length=500, blank=True)
    override_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    override_at = models.DateTimeField(null=True, blank=True)
    private = models.BooleanField(default=False)
    continues = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="continued_by",
    )

    objects = FindingQuerySet.as_manager()

    class Meta:
        constraints = [
            only("verdict", Verdict),
            only("override", Verdict, blank=True),
            models.CheckConstraint(
                condition=Q(override="", override_reason="", override_by=None)
                | ~Q(override="")
                & ~Q(override_reason="")
                & Q(override_by__isnull=False),
                name="finding_override_explained",
            ),
        ]
        indexes = [
            models.Index(fields=["tree", "sign", "-id"]),
        ]

    def __str__(self) -> str:
        return f"finding {self.pk}: {self.sign}"

    @property
    def standing_verdict(self) -> Verdict:
        return Verdict(self.override or self.verdict)


class SecondLook(models.Model):
    """A finding its observer was not sure of, waiting for an answer."""

    class Answer(models.TextChoices):
        AGREED = "agreed", _("It is what was said")
        OTHER = "other", _("It is something else")
        NOTHING = "nothing", _("Nothing to see there")
        UNSETTLED = "unsettled", _("Still not clear")

    finding = models.OneToOneField(
        Finding, on_delete=models.PROTECT, related_name="second_look"
    )
    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    # Why it is asked, when not because the observer was unsure.
    reason = models.CharField(max_length=500, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    answer = models.CharField(max_length=12, choices=Answer.choices, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            only("answer", ("agreed", "other", "nothing", "unsettled"), blank=True),
            models.CheckConstraint(
                condition=Q(answered_at=None, answered_by=None, answer="")
                | Q(answered_at__isnull=False, answered_by__isnull=False)
                & ~Q(answer=""),
                name="secondlook_answer_whole",
            ),
        ]
        indexes = [
            models.Index(
                fields=["orchard", "asked_at", "id"],
                condition=Q(answered_at=None),
                name="secondlook_waiting",
            ),
        ]

    def __str__(self) -> str:
        return f"second look at finding {self.finding_id}"

"""Practice: what a person answered when asked which sign it is; theirs alone."""

from __future__ import annotations

import uuid
from typing import Any, Self

from django.db import models
from django.db.models import Q

from orchard.records.columns import only, word
from orchard.science.words import PracticeLevel


class PracticeAnswerQuerySet(models.QuerySet["PracticeAnswer"]):
    def given_by(self, person: Any, orchard: Any) -> Self:
        """Only what a person answered in an orchard."""
        return self.filter(by=person, orchard=orchard)

    def missed(self) -> Self:
        """Only those in which another sign was named; not "I don't know"."""
        return self.exclude(taken_for="").exclude(taken_for=models.F("sign"))


class PracticeAnswer(models.Model):
    """One question answered: the sign shown, and the sign it was taken for."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    by = models.ForeignKey(
        "User", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    # One key for each question: the same answer sent twice is one.
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    sign = models.CharField(max_length=40)
    # Empty: they did not know.
    taken_for = models.CharField(max_length=40, blank=True)
    level = word(PracticeLevel)
    photo = models.ForeignKey(
        "Photo",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    answered_at = models.DateTimeField()

    objects = PracticeAnswerQuerySet.as_manager()

    class Meta:
        constraints = [
            only("level", PracticeLevel),
            models.CheckConstraint(
                condition=~Q(sign=""), name="practiceanswer_names_its_sign"
            ),
            models.CheckConstraint(
                condition=Q(photo=None) | Q(level=PracticeLevel.PHOTO.value),
                name="practiceanswer_photo_at_its_level",
            ),
        ]
        indexes = [
            models.Index(fields=["by", "orchard", "answered_at", "id"]),
            models.Index(
                fields=["orchard", "answered_at", "sign", "taken_for", "by"],
                condition=~Q(taken_for="") & ~Q(taken_for=models.F("sign")),
                name="practiceanswer_missed",
            ),
        ]

    def __str__(self) -> str:
        return f"practice {self.pk}: {self.sign}"

    @property
    def is_right(self) -> bool:
        return self.taken_for == self.sign

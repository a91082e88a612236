"""Columns that several tables share."""

from __future__ import annotations

from enum import StrEnum
from typing import Any, Self, TypeVar

from django.db import models
from django.utils.translation import gettext_lazy as _


def word(enum: type[StrEnum], **options: Any) -> models.CharField[str, str]:
    """Return a column that holds one word of a closed vocabulary."""
    choices = [(member.value, member.value.replace("_", " ")) for member in enum]
    return models.CharField(max_length=24, choices=choices, **options)


def only(field: str, words: Any, *, blank: bool = False) -> models.CheckConstraint:
    """Return the check that keeps a column within its vocabulary."""
    values = [getattr(member, "value", member) for member in words]
    if blank:
        values.append("")
    return models.CheckConstraint(
        condition=models.Q(**{f"{field}__in": values}),
        name=f"%(class)s_{field}_known",
    )


def writer() -> models.ForeignKey[Any, Any]:
    """Return the column of who wrote a record down for whoever it is by."""
    return models.ForeignKey(
        "records.User",
        verbose_name=_("written down by"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )


def writer_is_another() -> models.CheckConstraint:
    """Return the check that a record names a writer only beside whom it is by."""
    return models.CheckConstraint(
        condition=models.Q(written_by=None)
        | models.Q(by__isnull=False) & ~models.Q(written_by=models.F("by")),
        name="%(class)s_written_by_another",
    )


class Correctable(models.Model):
    """A record that is never erased: corrected by a newer one, or withdrawn."""

    corrects = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="corrected_by",
    )
    correction_reason = models.CharField(max_length=500, blank=True)
    superseded_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        "records.User",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    withdrawn_reason = models.CharField(max_length=500, blank=True)

    class Meta:
        abstract = True

    @property
    def is_current(self) -> bool:
        return self.superseded_at is None and self.withdrawn_at is None


Row = TypeVar("Row", bound=models.Model, covariant=True)


class CorrectableQuerySet(models.QuerySet[Row]):
    def in_orchard(self, orchard: Any) -> Self:
        return self.filter(orchard=orchard)

    def current(self) -> Self:
        """Only what still stands: neither corrected nor withdrawn."""
        return self.filter(superseded_at=None, withdrawn_at=None)


def correction_is_explained() -> models.CheckConstraint:
    """Return the check that a correction says why."""
    return models.CheckConstraint(
        condition=models.Q(corrects=None) | ~models.Q(correction_reason=""),
        name="%(class)s_correction_explained",
    )


def withdrawal_is_whole() -> models.CheckConstraint:
    """Return the check that a withdrawal says when, who and why, or nothing."""
    nothing = models.Q(withdrawn_at=None, withdrawn_by=None, withdrawn_reason="")
    everything = models.Q(
        withdrawn_at__isnull=False, withdrawn_by__isnull=False
    ) & ~models.Q(withdrawn_reason="")
    return models.CheckConstraint(
        condition=nothing | everything, name="%(class)s_withdrawal_whole"
    )

"""Talk sets: an ordered choice of photos, with captions, for a talk."""

from __future__ import annotations

from typing import Any, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import only


class TalkSetQuerySet(models.QuerySet["TalkSet"]):
    def in_orchard(self, orchard: Any) -> Self:
        return self.filter(orchard=orchard)

    def there(self) -> Self:
        """Only sets that nobody took away."""
        return self.filter(removed_at=None)


class TalkSet(models.Model):
    """The slides of one talk. What is taken out of it is marked, never erased."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="talk_sets", db_index=False
    )
    title = models.CharField(_("title"), max_length=120)
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    removed_at = models.DateTimeField(_("removed at"), null=True, blank=True)

    objects = TalkSetQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(title=""), name="talkset_has_title"),
        ]
        indexes = [
            models.Index(
                fields=["orchard", "-changed_at", "-id"],
                condition=Q(removed_at=None),
                name="talkset_latest",
            ),
        ]

    def __str__(self) -> str:
        return self.title


class Slide(models.Model):
    """One slide of a set; its photos stand in its places."""

    class Kind(models.TextChoices):
        TITLE = "title", _("title")
        TEXT = "text", _("text")
        PICTURE = "picture", _("one photo")
        PAIR = "pair", _("pair")
        BEFORE_AFTER = "before_after", _("before and after")
        SERIES = "series", _("series")
        CREDITS = "credits", _("closing credits")

    talk_set = models.ForeignKey(
        TalkSet, on_delete=models.PROTECT, related_name="slides", db_index=False
    )
    position = models.PositiveSmallIntegerField(_("number"))
    kind = models.CharField(_("kind"), max_length=12, choices=Kind.choices)
    title = models.CharField(_("title"), max_length=120, blank=True)
    text = models.CharField(_("text"), max_length=600, blank=True)
    note = models.CharField(_("presenter note"), max_length=2000, blank=True)
    removed_at = models.DateTimeField(_("removed at"), null=True, blank=True)

    class Meta:
        constraints = [
            only(
                "kind",
                (
                    "title", "text", "picture", "pair", "before_after", "series",
                    "credits",
                ),
            ),
            models.CheckConstraint(
                condition=Q(position__gte=1), name="slide_position_from_one"
            ),
            # Also the index by which the slides of a set are found.
            models.UniqueConstraint(
                fields=["talk_set", "position"],
                condition=Q(removed_at=None),
                name="slide_one_at_a_position",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"{self.position} of {self.talk_set}"


class SlidePhoto(models.Model):
    """A place on a slide: its photo, with what is said of it there."""

    slide = models.ForeignKey(
        Slide, on_delete=models.PROTECT, related_name="places", db_index=False
    )
    photo = models.ForeignKey("Photo", on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField(_("position"))
    caption = models.CharField(_("caption"), max_length=300, blank=True)
    alt_text = models.CharField(_("description"), max_length=300, blank=True)
    removed_at = models.DateTimeField(_("removed at"), null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(position__gte=1), name="slidephoto_position_from_one"
            ),
            # Also the index by which the photos of a slide are found.
            models.UniqueConstraint(
                fields=["slide", "position"],
                condition=Q(removed_at=None),
                name="slidephoto_one_at_a_position",
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.position} on slide {self.slide}"


class TalkStep(models.Model):
    """What somebody did to a set, with what it was before, so that it can be undone."""

    class Deed(models.TextChoices):
        ADD = "add", _("added slides")
        EDIT = "edit", _("edited a slide")
        MOVE = "move", _("moved a slide")
        REMOVE = "remove", _("removed a slide")
        CLEAR = "clear", _("removed empty places")
        RENAME = "rename", _("renamed the set")

    talk_set = models.ForeignKey(
        TalkSet, on_delete=models.PROTECT, related_name="steps", db_index=False
    )
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    deed = models.CharField(max_length=8, choices=Deed.choices)
    # What each changed row was, by table and number; None for one that was added.
    before = models.JSONField()
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            only("deed", ("add", "edit", "move", "remove", "clear", "rename")),
        ]
        indexes = [
            models.Index(
                fields=["talk_set", "-id"],
                condition=Q(undone_at=None),
                name="talkstep_last",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.deed} in {self.talk_set}"

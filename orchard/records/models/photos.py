"""Photos: the picture, whose it is, and who may be seen in it."""

from __future__ import annotations

import uuid
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Any, Self, TypeAlias, TypeVar

from django.db import models
from django.db.models import Exists, F, OuterRef, Q
from django.db.models.functions import Coalesce, ExtractMonth
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import (
    Correctable,
    CorrectableQuerySet,
    correction_is_explained,
    only,
    withdrawal_is_whole,
)
from orchard.records.models.cases import Case

if TYPE_CHECKING:
    from orchard.records.models.harvests import Harvest
    from orchard.records.models.inspections import Finding, Inspection
    from orchard.records.models.rounds import Round
    from orchard.records.models.tasks import Closure
    from orchard.records.models.treatments import Product, Treatment
    from orchard.records.models.trees import Tree

Subject = TypeVar("Subject", bound=models.Model)
Many: TypeAlias = "models.ManyToManyField[Subject, PhotoLink]"


def _many(model: str) -> Any:
    return models.ManyToManyField(model, through="PhotoLink", related_name="photos")


class PhotoQuerySet(CorrectableQuerySet["Photo"]):
    def unassigned(self) -> Self:
        """Only photos that belong to nothing yet but the round they came from."""
        return self.exclude(Exists(PhotoLink.objects.of_photo().filter(round=None)))

    def assigned_to(self, *subjects: str) -> Self:
        """Only photos that belong to at least one subject of these sorts."""
        return self.filter(Exists(PhotoLink.objects.of_photo().about(*subjects)))

    def of_findings(
        self, findings: models.QuerySet[Finding], *, confirmed: str = ""
    ) -> Self:
        """Only photos of at least one of these findings, or confirmed for a sign."""
        shown = Q(PhotoLink.objects.of_photo().shows_one_of(findings))
        return self.filter(shown | Q(confirmed_sign=confirmed) if confirmed else shown)

    def of_looks(self, looks: models.QuerySet[Inspection]) -> Self:
        """Only photos of at least one of these inspections."""
        links = PhotoLink.objects.of_photo()
        look = looks.filter(pk=OuterRef("inspection"))
        return self.filter(Exists(links.filter(Exists(look))))

    def of_trees(self, trees: models.QuerySet[Tree]) -> Self:
        """Only photos of at least one of these trees."""
        return self.filter(Exists(PhotoLink.objects.of_photo().filter(tree__in=trees)))

    def from_months(self, months: list[int], zone: tzinfo) -> Self:
        """Only photos taken in calendar months of a time zone, of whatever year.

        Where no camera says when one was taken, it is from when it came in.
        """
        month = ExtractMonth(Coalesce("taken_at", "received_at"), tzinfo=zone)
        return self.alias(from_month=month).filter(from_month__in=months)

    def from_between(self, since: datetime | None, until: datetime | None) -> Self:
        """Only photos taken since a moment, and before another, as `from_months`."""
        found = self.alias(is_from=Coalesce("taken_at", "received_at"))
        if since:
            found = found.filter(is_from__gte=since)
        return found.filter(is_from__lt=until) if until else found

    def open_to_all(self) -> Self:
        """Only photos that no private finding hangs on."""
        return self.filter(private=False)

    def under_open_case(self) -> Self:
        """Only photos of a case without an answer, and those that came in since.

        Of the case are those of the look that it came of. Older ones of its tree are
        not: were they to vanish, who compares would learn of it.
        """
        return self.filter(_is_under_open_case())

    def free_of_suspicion(self) -> Self:
        """Only photos with nothing private, and of no case without an answer."""
        return self.open_to_all().exclude(_is_under_open_case())

    def free_to_show(self, use: str) -> Self:
        """Only photos that may leave the orchard in talks, or be seen by everybody.

        Somebody has let them go so far, no suspicion hangs on them, and nobody is in
        view, or somebody and all who were asked agree to this use.
        That nobody said who is in view lets none go.
        """
        consents = PhotoConsent.objects.of_photo()
        agreed = Exists(consents) & ~Exists(consents.people_without(use))
        return (
            self.current()
            .free_of_suspicion()
            .filter(audience__in=AS_WIDE_AS[use])
            .filter(
                Q(people=Photo.People.NOBODY) | Q(people=Photo.People.SOMEBODY) & agreed
            )
        )


def _is_under_open_case() -> Q:
    # Most orchards have no open case: then nothing else is asked of a photo.
    any_open = Exists(Case.objects.open().filter(orchard=OuterRef("orchard")))
    under = Q()
    since = {"opened_at__lte": OuterRef("received_at")}
    for path, more in (
        ("inspection__findings__cases", {}),
        ("finding__inspection__findings__cases", {}),
        ("tree__cases", since),
        ("closure__task__tree__cases", since),
    ):
        asked = {"isnull": False, "closed_at": None, **more}
        cases = {f"{path}__{name}": value for name, value in asked.items()}
        under |= Q(Exists(PhotoLink.objects.of_photo().filter(**cases)))
    return Q(any_open) & under


class Photo(Correctable):
    """One picture, stored under a random name in three sizes."""

    class People(models.TextChoices):
        UNKNOWN = "unknown", _("not said")
        NOBODY = "nobody", _("nobody in view")
        SOMEBODY = "somebody", _("people in view")

    class View(models.TextChoices):
        CLOSE_UP = "close_up", _("close-up")
        BRANCH = "branch", _("branch")
        WHOLE_TREE = "whole_tree", _("whole tree")

    class Audience(models.TextChoices):
        INSIDE = "inside", _("members only")
        TALKS = "talks", _("talks and slides")
        PUBLIC = "public", _("everybody")

    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    trees: Many[Tree] = _many("Tree")
    inspections: Many[Inspection] = _many("Inspection")
    findings: Many[Finding] = _many("Finding")
    closures: Many[Closure] = _many("Closure")
    rounds: Many[Round] = _many("Round")
    treatments: Many[Treatment] = _many("Treatment")
    products: Many[Product] = _many("Product")
    harvests: Many[Harvest] = _many("Harvest")
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    name = models.UUIDField(default=uuid.uuid4, unique=True)
    sha256 = models.CharField(max_length=64)
    file_format = models.CharField(max_length=8)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size_bytes = models.PositiveIntegerField()
    taken_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    caption = models.CharField(_("caption"), max_length=300, blank=True)
    people = models.CharField(
        _("people"), max_length=10, choices=People.choices, default=People.UNKNOWN
    )
    # Who is named with it, as people wrote it.
    credit = models.CharField(_("credit"), max_length=120, blank=True)
    # What it shows, for those who cannot see it.
    alt_text = models.CharField(_("description"), max_length=300, blank=True)
    view = models.CharField(_("view"), max_length=10, choices=View.choices, blank=True)
    audience = models.CharField(
        _("who may see it"),
        max_length=8,
        choices=Audience.choices,
        default=Audience.INSIDE,
    )
    # Measured on its small size; empty until it was. A brightness below nought says
    # that the file of that size is no picture any more.
    sharpness = models.FloatField(null=True, blank=True)
    brightness = models.FloatField(null=True, blank=True)
    # Two photos that look alike differ in few of its 64 bits.
    likeness = models.BigIntegerField(null=True, blank=True)
    # The orchard's own confirmed picture of a sign, shown beside its look-alikes.
    confirmed_sign = models.CharField(max_length=40, blank=True)
    private = models.BooleanField(default=False)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        constraints = [
            correction_is_explained(),
            withdrawal_is_whole(),
            only("people", ("unknown", "nobody", "somebody")),
            only("file_format", ("JPEG", "PNG", "WEBP", "HEIC")),
            only("view", ("close_up", "branch", "whole_tree"), blank=True),
            only("audience", ("inside", "talks", "public")),
            models.UniqueConstraint(
                fields=["orchard", "sha256"],
                condition=Q(withdrawn_at=None, superseded_at=None),
                name="photo_content_once_per_orchard",
            ),
        ]
        indexes = [
            models.Index(
                fields=["orchard", "received_at", "id"],
                condition=Q(withdrawn_at=None, superseded_at=None),
                name="photo_current",
            ),
            models.Index(
                fields=["orchard", "confirmed_sign", "-id"],
                condition=~Q(confirmed_sign=""),
                name="photo_confirmed",
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.name}"

    @property
    def read_aloud(self) -> str:
        """Return what stands for it where it cannot be seen, or ""."""
        return self.alt_text or self.caption

    @property
    def tree(self) -> Tree | None:
        """Return the tree it shows, as prefetched, or None."""
        return next(iter(self.trees.all()), None)


# What lets a photo go to a use: it may leave so far, or farther.
AS_WIDE_AS = {"talks": ("talks", "public"), "public": ("public",)}

SUBJECTS = (
    "tree", "inspection", "finding", "closure", "round", "treatment", "product",
    "harvest",
)  # fmt: skip


class PhotoLinkQuerySet(models.QuerySet["PhotoLink"]):
    def of_photo(self) -> Self:
        """Only links of the photo of the query around this one."""
        return self.filter(photo=OuterRef("pk"))

    def shows_one_of(self, findings: models.QuerySet[Finding]) -> Exists:
        """Whether one of these links is of one of these findings.

        Asked link by link: a list of all findings, gone through for each photo, takes
        SQLite half a minute where there are many of both.
        """
        return Exists(self.filter(Exists(findings.filter(pk=OuterRef("finding")))))

    def about(self, *subjects: str) -> Self:
        """Only links to subjects of these sorts."""
        wanted = Q(pk__in=[])
        for subject in subjects:
            wanted |= Q(**{f"{subject}__isnull": False})
        return self.filter(wanted)


def _exactly_one_subject() -> Q:
    alone = Q()
    for subject in SUBJECTS:
        alone |= Q(**{f"{each}__isnull": each != subject for each in SUBJECTS})
    return alone


class PhotoLink(models.Model):
    """One thing that a photo belongs to; a photo has a row for each of them."""

    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="links")
    tree = models.ForeignKey(
        "Tree",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    inspection = models.ForeignKey(
        "Inspection",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    finding = models.ForeignKey(
        "Finding",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    closure = models.ForeignKey(
        "Closure",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    round = models.ForeignKey(
        "Round",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    treatment = models.ForeignKey(
        "Treatment",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    product = models.ForeignKey(
        "Product",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    harvest = models.ForeignKey(
        "Harvest",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )

    objects = PhotoLinkQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=_exactly_one_subject(), name="photolink_exactly_one_subject"
            ),
            # Each is also the index by which the photos of its subject are found.
            *(
                models.UniqueConstraint(
                    fields=[subject, "photo"],
                    condition=Q(**{f"{subject}__isnull": False}),
                    name=f"photolink_once_per_{subject}",
                )
                for subject in SUBJECTS
            ),
        ]

    def __str__(self) -> str:
        return f"link {self.pk} of photo {self.photo_id}"


class PhotoConsentQuerySet(models.QuerySet["PhotoConsent"]):
    def of_photo(self) -> Self:
        """Only consents about the photo of the query around this one."""
        return self.filter(photo=OuterRef("pk"))

    def standing(self) -> Self:
        """Only what nobody took back."""
        return self.filter(withdrawn_at=None)

    def people_without(self, use: str) -> Self:
        """Only consents of people none of whose consents stands for a use."""
        theirs = PhotoConsent.objects.standing().filter(
            photo=OuterRef("photo"),
            person=OuterRef("person"),
            use__in=AS_WIDE_AS[use],
        )
        return self.exclude(Exists(theirs))


class PhotoConsent(models.Model):
    """What somebody in view agreed to; taken back it stays on record, with why."""

    class Use(models.TextChoices):
        TALKS = "talks", _("talks and slides")
        PUBLIC = "public", _("everybody, talks and slides too")

    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="consents")
    person = models.CharField(_("person"), max_length=120)
    use = models.CharField(_("agrees to"), max_length=8, choices=Use.choices)
    given_on = models.DateField(_("given on"))
    noted_by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    noted_at = models.DateTimeField()
    withdrawn_on = models.DateField(_("withdrawn on"), null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=500, blank=True)

    objects = PhotoConsentQuerySet.as_manager()

    class Meta:
        constraints = [
            only("use", ("talks", "public")),
            models.CheckConstraint(
                condition=~Q(person=""), name="photoconsent_names_somebody"
            ),
            models.CheckConstraint(
                condition=Q(
                    withdrawn_on=None,
                    withdrawn_by=None,
                    withdrawn_at=None,
                    withdrawn_reason="",
                )
                | Q(
                    withdrawn_on__isnull=False,
                    withdrawn_on__gte=F("given_on"),
                    withdrawn_by__isnull=False,
                    withdrawn_at__isnull=False,
                )
                & ~Q(withdrawn_reason=""),
                name="photoconsent_withdrawal_whole",
            ),
            models.UniqueConstraint(
                fields=["photo", "person", "use"],
                condition=Q(withdrawn_at=None),
                name="photoconsent_one_standing",
            ),
        ]

    def __str__(self) -> str:
        return f"consent of {self.person} to photo {self.photo_id}"

"""Trees, their kinds and tags, and the spots and blocks where they stand."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any, NamedTuple, Self

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import only
from orchard.records.days import day_in
from orchard.science.codes import plain_code

DAYS_A_YEAR = 365.25
TENDERNESS = ("T1", "T2", "T3", "T4", "T5")


HOSTS = ("citrus", "stone", "pome", "fig", "persimmon", "pomegranate", "any")


class Block(models.Model):
    """A part of an orchard, walked in one go."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="blocks"
    )
    code = models.CharField(_("code"), max_length=12)
    name = models.CharField(_("name"), max_length=80)
    position = models.PositiveIntegerField(_("walking order"), default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "orchard", Lower("code"), name="block_code_once_per_orchard"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Spot(models.Model):
    """A numbered planting place. Trees come and go; the spot stays."""

    block = models.ForeignKey(Block, on_delete=models.PROTECT, related_name="spots")
    number = models.CharField(_("number"), max_length=12)
    position = models.PositiveIntegerField(_("walking order"), default=0)
    over_path = models.BooleanField(_("branches reach over a path"), default=False)
    latitude = models.DecimalField(
        max_digits=9, decimal_places=6, null=True, blank=True
    )
    longitude = models.DecimalField(
        max_digits=9, decimal_places=6, null=True, blank=True
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "block", Lower("number"), name="spot_number_once_per_block"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.block.code}-{self.number}"


class Kind(models.Model):
    """A cultivar as this orchard grows it; most come from the guide."""

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="kinds"
    )
    name = models.CharField(_("cultivar"), max_length=80)
    host = models.CharField(_("sort of fruit tree"), max_length=16, default="citrus")
    group = models.CharField(_("group"), max_length=60, blank=True)
    guide_key = models.CharField(max_length=60, blank=True)
    tender_class = models.CharField(_("tenderness"), max_length=2, blank=True)
    other_names = models.JSONField(_("other names"), default=list, blank=True)
    # What visitors read about every tree of it.
    story = models.CharField(_("story"), max_length=1500, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "orchard", Lower("name"), name="kind_name_once_per_orchard"
            ),
            only("host", HOSTS),
            only("tender_class", TENDERNESS, blank=True),
        ]

    def __str__(self) -> str:
        return self.name


class TreeQuerySet(models.QuerySet["Tree"]):
    def in_orchard(self, orchard: Any) -> Self:
        return self.filter(orchard=orchard)

    def with_code(self, text: str) -> Self:
        """The tree of a code, however it is spelled; one kept of old as it is."""
        as_it_is, plain = Q(code__iexact=text), plain_code(text)
        if plain == text:
            return self.filter(as_it_is)
        return self.filter(as_it_is | Q(code__iexact=plain)).order_by("pk")

    def standing(self) -> Self:
        """Only trees that are in the orchard today, alive or not."""
        return self.filter(removed_on=None)

    def looked_after(self) -> Self:
        """Only trees that verdicts and new jobs apply to."""
        return self.filter(state=Tree.State.GROWING)

    def in_walking_order(self) -> Self:
        return self.order_by(
            "spot__block__position",
            "spot__block_id",
            "spot__position",
            "spot_id",
            "id",
        )

    def as_growing(self, time_zone: str) -> tuple[GrowingTree, ...]:
        """Read growing trees in walking order, three queries: no more than advice asks.

        Trees that share a kind, a block or their dates share the object.
        """
        rows = list(
            self.looked_after()
            .in_walking_order()
            .values_list(
                "id",
                "code",
                "kind_id",
                "spot_id",
                "spot__block_id",
                "rootstock",
                "own_roots",
                "setting",
                "container_litres",
                "irrigated",
                "staked",
                "on_display",
                "born_on",
                "planted_on",
                "born_precision",
                "planted_precision",
                "entered_at",
            )
        )
        kinds = Kind.objects.in_bulk({row[2] for row in rows})
        blocks = Block.objects.in_bulk({row[4] for row in rows})
        shared: dict[TreeDates, TreeDates] = {}
        days: dict[datetime, date] = {}
        found = []
        for (
            pk,
            code,
            kind_id,
            spot_id,
            block_id,
            rootstock,
            own_roots,
            setting,
            litres,
            irrigated,
            staked,
            on_display,
            born_on,
            planted_on,
            born_precision,
            planted_precision,
            entered_at,
        ) in rows:
            is_exact = born_precision == planted_precision == Tree.Precision.DAY
            if entered_at not in days:
                days[entered_at] = day_in(entered_at, time_zone)
            entered_on = days[entered_at]
            dates = TreeDates(
                born_on,
                planted_on,
                born_precision,
                planted_precision,
                None if is_exact else entered_on,
            )
            found.append(
                GrowingTree(
                    pk,
                    code,
                    kind_id,
                    kinds[kind_id],
                    spot_id,
                    block_id,
                    blocks[block_id],
                    rootstock,
                    own_roots,
                    setting,
                    litres,
                    irrigated,
                    staked,
                    on_display,
                    entered_on,
                    shared.setdefault(dates, dates),
                )
            )
        return tuple(found)


class TreeDates(NamedTuple):
    """When a tree was grafted or sown, planted and entered, and its age by these.

    Where only the year is known, the day is the first that it can have been.
    """

    born_on: date | None
    planted_on: date | None
    born_precision: str
    planted_precision: str
    # Where a day is not exact: it was there on the day it was entered.
    entered_on: date | None

    def age_on(self, day: date) -> float | None:
        """Return the age in years, from when it was grafted or else planted.

        None where neither is on record, or only for a later day. Where only the year
        is known, as young as it can be: what young trees need is never left out.
        """
        if self.born_on is not None:
            return _years_since(self.born_on, self._last_born_on, day)
        return self.planted_years_on(day)

    def greatest_age_on(self, day: date) -> float | None:
        """Return the age in years on a day, as old as the tree can be."""
        first = self.born_on or self.planted_on
        return _years_since(first, first, day)

    def planted_years_on(self, day: date) -> float | None:
        """Return the years since it was planted here, whenever it was grafted."""
        return _years_since(self.planted_on, self.last_planted_on, day)

    def planted_days_on(self, day: date) -> int | None:
        """Return the days since it was planted here."""
        return _days_since(self.planted_on, self.last_planted_on, day)

    @property
    def last_planted_on(self) -> date | None:
        """Give the last day on which it can have been planted."""
        return self._last_possible(self.planted_on, self.planted_precision)

    @property
    def _last_born_on(self) -> date | None:
        last = self._last_possible(self.born_on, self.born_precision)
        planted = self.last_planted_on
        return min(last, planted) if last is not None and planted is not None else last

    def _last_possible(self, first: date | None, precision: str) -> date | None:
        """Return the end of the year that is known, if the tree was not there before.

        A tree that is entered was planted by then, by the orchard's own calendar.
        """
        if first is None or precision == Tree.Precision.DAY or self.entered_on is None:
            return first
        return max(first, min(date(first.year, 12, 31), self.entered_on))


class GrowingTree(NamedTuple):
    """A growing tree as advice reads it: an orchard can have ten thousand of them."""

    pk: int
    code: str
    kind_id: int
    kind: Kind
    spot_id: int
    block_id: int
    block: Block
    rootstock: str
    own_roots: bool
    setting: str
    container_litres: Decimal | None
    irrigated: bool
    staked: bool
    on_display: bool
    entered_on: date
    dates: TreeDates


class Tree(models.Model):
    """One plant in a spot, from planting to removal."""

    class State(models.TextChoices):
        GROWING = "growing", _("growing")
        ROOTSTOCK_ONLY = "rootstock_only", _("rootstock only")
        DEAD = "dead", _("dead")
        REMOVED = "removed", _("removed")

    class Setting(models.TextChoices):
        GROUND = "ground", _("in the ground")
        CONTAINER = "container", _("in a container")

    class Precision(models.TextChoices):
        DAY = "day", _("to the day")
        YEAR = "year", _("the year only")

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="trees"
    )
    spot = models.ForeignKey(Spot, on_delete=models.PROTECT, related_name="trees")
    code = models.CharField(_("code"), max_length=24)
    kind = models.ForeignKey(Kind, on_delete=models.PROTECT, related_name="trees")
    believed = models.BooleanField(_("cultivar only believed to be"), default=False)
    label_name = models.CharField(_("name on the label"), max_length=120, blank=True)
    rootstock = models.CharField(_("rootstock"), max_length=60, blank=True)
    own_roots = models.BooleanField(_("on its own roots"), default=False)
    setting = models.CharField(
        _("setting"), max_length=12, choices=Setting.choices, default=Setting.GROUND
    )
    container_litres = models.DecimalField(
        _("container, litres"), max_digits=7, decimal_places=1, null=True, blank=True
    )
    born_on = models.DateField(_("grafted or sown on"), null=True, blank=True)
    planted_on = models.DateField(_("planted on"), null=True, blank=True)
    # Where only the year is known, the day is the first that it can have been.
    born_precision = models.CharField(
        _("grafted or sown, how exactly"),
        max_length=4,
        choices=Precision.choices,
        default=Precision.DAY,
    )
    planted_precision = models.CharField(
        _("planted, how exactly"),
        max_length=4,
        choices=Precision.choices,
        default=Precision.DAY,
    )
    irrigated = models.BooleanField(_("on drip irrigation"), default=False)
    staked = models.BooleanField(_("staked"), default=False)
    on_display = models.BooleanField(_("display tree"), default=True)
    note = models.TextField(_("note"), blank=True)
    # What visitors read about this one.
    story = models.CharField(_("story"), max_length=1500, blank=True)

    state = models.CharField(
        max_length=16, choices=State.choices, default=State.GROWING
    )
    scion_died_on = models.DateField(null=True, blank=True)
    died_on = models.DateField(null=True, blank=True)
    removed_on = models.DateField(null=True, blank=True)
    removal_reason = models.CharField(max_length=300, blank=True)
    replaces = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="replaced_by",
    )

    # Kept up when an inspection is logged, so that lists need no look back.
    last_seen_on = models.DateField(null=True, blank=True)
    condition = models.PositiveSmallIntegerField(null=True, blank=True)
    entered_at = models.DateTimeField()

    objects = TreeQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "orchard", Lower("code"), name="tree_code_once_per_orchard"
            ),
            models.UniqueConstraint(
                fields=["spot"],
                condition=Q(removed_on=None),
                name="tree_one_standing_per_spot",
            ),
            only("state", ("growing", "rootstock_only", "dead", "removed")),
            only("setting", ("ground", "container")),
            only("born_precision", ("day", "year")),
            only("planted_precision", ("day", "year")),
            models.CheckConstraint(
                condition=Q(removed_on=None, removal_reason="") & ~Q(state="removed")
                | Q(removed_on__isnull=False, state="removed") & ~Q(removal_reason=""),
                name="tree_removal_whole",
            ),
            models.CheckConstraint(
                condition=Q(planted_on=None)
                | Q(removed_on=None)
                | Q(removed_on__gte=models.F("planted_on")),
                name="tree_removed_after_planted",
            ),
            models.CheckConstraint(
                condition=Q(born_on=None)
                | Q(planted_on=None)
                | Q(planted_on__gte=models.F("born_on")),
                name="tree_planted_after_grafted",
            ),
            models.CheckConstraint(
                condition=Q(container_litres=None)
                | Q(setting="container", container_litres__gt=0),
                name="tree_litres_only_in_container",
            ),
            models.CheckConstraint(
                condition=Q(own_roots=False) | Q(rootstock=""),
                name="tree_own_roots_no_rootstock",
            ),
            models.CheckConstraint(
                condition=Q(condition=None) | Q(condition__gte=1, condition__lte=5),
                name="tree_condition_one_to_five",
            ),
        ]
        indexes = [
            models.Index(fields=["orchard", "state", "last_seen_on", "id"]),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def is_standing(self) -> bool:
        return self.removed_on is None

    def state_on(self, day: date) -> str:
        """Return the state on a day: until its end a tree was growing."""
        ends = [self.scion_died_on, self.died_on, self.removed_on]
        ended_on = min((end for end in ends if end is not None), default=None)
        if ended_on is not None and day < ended_on:
            return self.State.GROWING
        return self.state

    @property
    def dates(self) -> TreeDates:
        """Give when it was grafted, planted and entered, by which its age is told."""
        is_exact = self.born_precision == self.planted_precision == self.Precision.DAY
        return TreeDates(
            self.born_on,
            self.planted_on,
            self.born_precision,
            self.planted_precision,
            None if is_exact else day_in(self.entered_at, self.orchard.time_zone),
        )


def _days_since(first: date | None, last: date | None, day: date) -> int | None:
    """Return the days since `last`, where something was by then at the earliest."""
    if first is None or last is None or first > day:
        return None
    return max(0, (day - last).days)


def _years_since(first: date | None, last: date | None, day: date) -> float | None:
    days = _days_since(first, last, day)
    return None if days is None else days / DAYS_A_YEAR


class Stay(models.Model):
    """The time a tree spent in a spot."""

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="stays")
    spot = models.ForeignKey(Spot, on_delete=models.PROTECT, related_name="stays")
    since_on = models.DateField(null=True, blank=True)
    until_on = models.DateField(null=True, blank=True)
    ended = models.BooleanField(default=False)
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tree"],
                condition=Q(ended=False),
                name="stay_one_spot_at_a_time",
            ),
            models.CheckConstraint(
                condition=Q(since_on=None)
                | Q(until_on=None)
                | Q(until_on__gte=models.F("since_on")),
                name="stay_ends_after_start",
            ),
            models.CheckConstraint(
                condition=Q(ended=True) | Q(until_on=None),
                name="stay_end_only_when_ended",
            ),
        ]

    def __str__(self) -> str:
        return f"tree {self.tree_id} in spot {self.spot_id}"


class Tag(models.Model):
    """The printed label of a tree: its token stands in the QR code."""

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="tags")
    token = models.CharField(max_length=32, unique=True)
    made_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tree"],
                condition=Q(retired_at=None),
                name="tag_one_valid_per_tree",
            ),
        ]

    def __str__(self) -> str:
        return f"tag {self.token}"

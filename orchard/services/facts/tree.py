"""What the book knows of a tree on a day, before anybody has looked.

It comes from the tree, the date, the site, the weather and earlier looks. The same
facts serve the form that is rendered in advance and the server that judges what comes
back, so that both say the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q

from orchard.records.models import Finding, Happening, StageNote, Tree
from orchard.science import events, windows
from orchard.science.events import EventGroup
from orchard.science.figures import days, stages
from orchard.science.guide import Sign, Value
from orchard.science.verdict import RuleSet, codes_of
from orchard.science.words import Season, Trend, WorkKind
from orchard.services import house_rules, weather
from orchard.services.holds import TreeHold, holds_of

STATES = {
    Tree.State.GROWING: "alive",
    Tree.State.DEAD: "dead",
    Tree.State.REMOVED: "removed",
    Tree.State.ROOTSTOCK_ONLY: "rootstock_only",
}
Facts = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Earlier:
    """What an earlier finding of a sign has to say to the next one."""

    pk: int
    seen_on: date
    answers: Mapping[str, Any]
    trend: str


@dataclass(frozen=True, slots=True)
class Ground:
    """All that the book knows of a tree on a day, gathered in a few queries."""

    tree: Tree
    on: date
    latitude: float
    base: Mapping[str, Value]
    pests: Mapping[str, str]
    earlier: Mapping[str, tuple[Earlier, ...]]
    rules: Mapping[str, RuleSet]
    holds: tuple[TreeHold, ...]

    def facts(self, sign: Sign) -> Facts:
        """Return the facts known about a sign before anybody has looked."""
        return {
            **self.base,
            **self._status(sign),
            **self._before(sign),
        }

    def house_rules(self, sign: Sign) -> tuple[RuleSet, ...]:
        """Return the orchard's own rule for a sign, if one holds."""
        rule = self.rules.get(sign.key)
        return (rule,) if rule else ()

    def last(self, sign: Sign) -> Earlier | None:
        """Return the newest earlier finding of a sign."""
        found = self.earlier.get(sign.key, ())
        return found[0] if found else None

    def _status(self, sign: Sign) -> Facts:
        codes = dict.fromkeys((*sign.eppo, *codes_of(sign)))
        statuses = {code: self.pests[code] for code in codes if code in self.pests}
        return {"pest_status": statuses} if statuses else {}

    def _before(self, sign: Sign) -> Facts:
        found = self.earlier.get(sign.key, ())
        if not found:
            return {"trend": Trend.FIRST.value, "worse_in_row": 0}
        # Only a look that is worse again adds to the run: see with_trend.
        facts: Facts = {"worse_in_row": 0}
        year = windows.season_year(self.on, self.latitude)
        for look in found:
            share = look.answers.get("pct")
            spring = windows.season(look.seen_on, self.latitude) == Season.SPRING
            past = windows.season_year(look.seen_on, self.latitude) < year
            if share is not None and spring and past:
                return {**facts, "pct_prev": share}
        return facts


def gather(
    tree: Tree,
    *,
    on: date,
    before_pk: int | None = None,
    to_show: bool = False,
) -> Ground:
    """Gather what the book knows of a tree on a day, in a fixed number of queries.

    `before_pk` leaves out findings from that number on: a corrected finding is judged
    by what was known before it, not by itself. `to_show` leaves out private findings:
    a page tells nobody that a regulated pest was suspected.
    """
    orchard = tree.orchard
    return Ground(
        tree=tree,
        on=on,
        latitude=float(orchard.latitude),
        base=_base(tree, on),
        pests=house_rules.confirmed_status(orchard),
        earlier=_earlier(tree, on, before_pk, to_show),
        rules=house_rules.holding(orchard, on),
        holds=holds_of(orchard, [tree.pk], today=on, forbidding=WorkKind.PRUNING).get(
            tree.pk, ()
        ),
    )


def _base(tree: Tree, on: date) -> Facts:
    orchard = tree.orchard
    latitude = float(orchard.latitude)
    facts: Facts = {
        "season": windows.season(on, latitude).value,
        "sm": windows.season_month(on, latitude),
        "setting": tree.setting,
        "on_own_roots": tree.own_roots,
        "cultivar": tree.kind.guide_key or tree.kind.name,
        "over_path": tree.spot.over_path,
        "fruit_fly_area": orchard.fruit_fly_area,
        "tree_state": STATES[Tree.State(tree.state_on(on))],
    }
    if tree.kind.host != "any":
        facts["host"] = tree.kind.host
    age, planted_d = tree.age_on(on), tree.planted_days_on(on)
    if age is not None:
        facts["age_y"] = round(age, 2)
    if planted_d is not None:
        facts["planted_d"] = planted_d
    return {**facts, **_stage(tree, on), **_weather(tree, on)}


def in_frost_season(orchard: Any, on: date) -> bool | None:
    """Tell whether a day lies in the orchard's frost season; None when it has none set.

    Outside the season no frost is expected unless a forecast says otherwise, so that
    nobody is asked about frost in midsummer.
    """
    if not orchard.frost_from or not orchard.frost_to:
        return None
    return _frost_season_ends_on(orchard, on) is not None


def _frost_season_ends_on(orchard: Any, on: date) -> date | None:
    """Return the last frost date of the season a day lies in, None outside of it."""
    if not orchard.frost_from or not orchard.frost_to:
        return None
    latitude = float(orchard.latitude)
    year = windows.season_year(on, latitude)
    [span] = windows.read_spans(f"{orchard.frost_from}..{orchard.frost_to}")
    for began in (year - 1, year):
        first, last = span.dates(began, latitude)
        if first <= on <= last:
            return last
    return None


def _stage(tree: Tree, on: date) -> Facts:
    mine = Q(tree=tree)
    if tree.kind.group:
        mine |= Q(orchard=tree.orchard, group=tree.kind.group)
    note = (
        StageNote.objects.current()
        .filter(mine, seen_on__lte=on, seen_on__gte=on - days("stage_note_days"))
        .order_by("-seen_on", "-id")
        .first()
    )
    return stage_facts(note.bbch) if note else {}


def stage_facts(bbch: int) -> Facts:
    """Return what a growth stage says: soft shoots only where the stage is one of them.

    A tree in bloom may flush as well, so that any other stage leaves the shoots open.
    """
    if bbch in stages("soft_leaves") or bbch in stages("soft_shoots"):
        return {"bbch": bbch, "flush": True}
    return {"bbch": bbch}


def _weather(tree: Tree, on: date) -> Facts:
    """Return what season, forecast and thermometer say; nothing that is not known."""
    facts: Facts = {}
    outside = weather.outside(tree.orchard, on)
    frost = frost_ahead(in_frost_season(tree.orchard, on), outside.frost_forecast)
    if frost is not None:
        facts["frost_ahead"] = frost
    ends_on = _frost_season_ends_on(tree.orchard, on)
    if ends_on is not None:
        facts["frost_ends_d"] = (ends_on - on).days
    if outside.heat_ahead is not None:
        facts["heat_ahead"] = outside.heat_ahead
    noted = (
        Happening.objects.current()
        .filter(Q(tree=None) | Q(tree=tree), orchard=tree.orchard)
        .filter(what__in=events.kinds_of(EventGroup.FROST), happened_on__lte=on)
        .order_by("-happened_on")
        .values_list("happened_on", flat=True)
        .first()
    )
    nights = [night for night in (noted, outside.frost_on) if night]
    if nights:
        facts["frost_days"] = (on - max(nights)).days
    return facts


def frost_ahead(in_season: bool | None, forecast: bool | None) -> bool | None:
    """Tell whether frost may still come, by the season or by the forecast.

    Either says yes; no only when the season says so, or where no season is set the
    forecast of the whole week. A forecast of a week ends no frost season.
    """
    if in_season or forecast:
        return True
    return forecast if in_season is None else False


def _earlier(
    tree: Tree, on: date, before_pk: int | None, to_show: bool
) -> dict[str, tuple[Earlier, ...]]:
    rows = (
        Finding.objects.current()
        .filter(tree=tree, inspection__seen_on__lte=on)
        .order_by("-inspection__seen_at", "-pk")
        .values_list("pk", "sign", "inspection__seen_on", "answers", "facts")
    )
    if to_show:
        rows = rows.filter(private=False)
    if before_pk is not None:
        rows = rows.filter(pk__lt=before_pk)
    found: dict[str, tuple[Earlier, ...]] = {}
    for pk, sign, seen_on, answers, facts in rows:
        look = Earlier(pk, seen_on, answers, facts.get("trend", ""))
        found[sign] = (*found.get(sign, ()), look)
    return found

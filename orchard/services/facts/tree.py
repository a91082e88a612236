"""What the book knows of a tree on a day, before anybody has looked.

It comes from the tree, the date, the site, the weather and earlier looks. The same
facts serve the form that is rendered in advance and the server that judges what comes
back, so that both say the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from orchard.records.models import Finding, Happening, Orchard, StageNote, Tree
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
# Findings of a tree by their sign, each sign's newest first.
EarlierFindings = Mapping[str, tuple["Earlier", ...]]


@dataclass(frozen=True, slots=True)
class Earlier:
    """What an earlier finding of a sign has to say to the next one."""

    pk: int
    seen_on: date
    answers: Mapping[str, Any]
    trend: str


@dataclass(frozen=True, slots=True)
class Site:
    """What the book knows of an orchard on a day, the same for each of its trees.

    `frosts` are the last nights with frost by the tree they were noted of, `stages` the
    growth stages seen lately, the newest first, each of a tree or of a group.
    """

    orchard: Orchard
    on: date
    outside: weather.Outside
    frosts: Mapping[int | None, date]
    stages: tuple[tuple[int | None, str, int], ...]
    pests: Mapping[str, str]
    rules: Mapping[str, RuleSet]
    holds: Mapping[int, tuple[TreeHold, ...]]


@dataclass(frozen=True, slots=True)
class Ground:
    """All that the book knows of a tree on a day, gathered in a few queries."""

    tree: Tree
    on: date
    latitude: float
    base: Mapping[str, Value]
    pests: Mapping[str, str]
    earlier: EarlierFindings
    rules: Mapping[str, RuleSet]
    holds: tuple[TreeHold, ...]
    # Where earlier looks were not read, nobody says that this is the first.
    knows_earlier: bool = True

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
        if not self.knows_earlier:
            return {}
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


def read_site(orchard: Orchard, on: date) -> Site:
    """Read what is the same for all trees of an orchard on a day, for many of them."""
    noted = (
        Happening.objects.current()
        .filter(orchard=orchard, happened_on__lte=on)
        .filter(what__in=events.kinds_of(EventGroup.FROST))
        .order_by("happened_on")
        .values_list("tree_id", "happened_on")
    )
    stages = (
        StageNote.objects.current()
        .filter(orchard=orchard)
        .filter(seen_on__lte=on, seen_on__gte=on - days("stage_note_days"))
        .order_by("-seen_on", "-id")
        .values_list("tree_id", "group", "bbch")
    )
    return Site(
        orchard=orchard,
        on=on,
        outside=weather.outside(orchard, on),
        frosts=dict(noted),
        stages=tuple(stages),
        pests=house_rules.confirmed_status(orchard),
        rules=house_rules.holding(orchard, on),
        holds=holds_of(orchard, today=on, forbidding=WorkKind.PRUNING),
    )


def gather(
    tree: Tree,
    *,
    on: date,
    before_pk: int | None = None,
    to_show: bool = False,
    site: Site | None = None,
    earlier: EarlierFindings | None = None,
    as_growing: bool = False,
) -> Ground:
    """Gather what the book knows of a tree on a day, in a fixed number of queries.

    `before_pk` leaves out findings from that number on: a corrected finding is judged
    by what was known before it, not by itself. `to_show` leaves out private findings:
    a page tells nobody that a regulated pest was suspected. With its `site`, as many
    trees share, one query is left; none with its `earlier` findings, read for many.
    `as_growing` is for what was seen of a tree that has come to its end since.
    """
    site = site or read_site(tree.orchard, on)
    if earlier is None:
        found = read_earlier([tree], on, before_pk=before_pk, to_show=to_show)
        earlier = found[tree.pk]
    base = _base(tree, site)
    if as_growing:
        base["tree_state"] = STATES[Tree.State.GROWING]
    return Ground(
        tree=tree,
        on=on,
        latitude=float(site.orchard.latitude),
        base=base,
        pests=site.pests,
        earlier=earlier,
        rules=site.rules,
        holds=site.holds.get(tree.pk, ()),
    )


def gather_for_any(orchard: Orchard, *, on: date) -> Ground:
    """Gather what holds for every tree of an orchard on a day, whichever it is.

    Nothing is known of the tree but that it grows: not its age, kind or past.
    """
    site = read_site(orchard, on)
    alive = {"tree_state": STATES[Tree.State.GROWING]}
    return Ground(
        tree=Tree(orchard=orchard),
        on=on,
        latitude=float(orchard.latitude),
        base={**_of_the_site(site), **_weather(None, site), **alive},
        pests=site.pests,
        earlier={},
        rules=site.rules,
        holds=(),
        knows_earlier=False,
    )


def _of_the_site(site: Site) -> Facts:
    latitude = float(site.orchard.latitude)
    return {
        "season": windows.season(site.on, latitude).value,
        "sm": windows.season_month(site.on, latitude),
        "fruit_fly_area": site.orchard.fruit_fly_area,
    }


def _base(tree: Tree, site: Site) -> Facts:
    on = site.on
    facts: Facts = {
        **_of_the_site(site),
        "setting": tree.setting,
        "on_own_roots": tree.own_roots,
        "cultivar": tree.kind.guide_key or tree.kind.name,
        "over_path": tree.spot.over_path,
        "tree_state": STATES[Tree.State(tree.state_on(on))],
    }
    if tree.kind.host != "any":
        facts["host"] = tree.kind.host
    age, planted_d = tree.dates.age_on(on), tree.dates.planted_days_on(on)
    if age is not None:
        facts["age_y"] = round(age, 2)
    if planted_d is not None:
        facts["planted_d"] = planted_d
    return {**facts, **_stage(tree, site), **_weather(tree.pk, site)}


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


def _stage(tree: Tree, site: Site) -> Facts:
    """Return what the newest stage says that was noted of a tree or its group."""
    mine = tree.kind.group
    for tree_id, group, bbch in site.stages:
        if tree_id == tree.pk or (mine and group == mine):
            return stage_facts(bbch)
    return {}


def stage_facts(bbch: int) -> Facts:
    """Return what a growth stage says: soft shoots only where the stage is one of them.

    A tree in bloom may flush as well, so that any other stage leaves the shoots open.
    """
    if bbch in stages("soft_leaves") or bbch in stages("soft_shoots"):
        return {"bbch": bbch, "flush": True}
    return {"bbch": bbch}


def _weather(tree_pk: int | None, site: Site) -> Facts:
    """Return what season, forecast and thermometer say; nothing that is not known."""
    facts: Facts = {}
    orchard, on, outside = site.orchard, site.on, site.outside
    frost = frost_ahead(in_frost_season(orchard, on), outside.frost_forecast)
    if frost is not None:
        facts["frost_ahead"] = frost
    ends_on = _frost_season_ends_on(orchard, on)
    if ends_on is not None:
        facts["frost_ends_d"] = (ends_on - on).days
    if outside.heat_ahead is not None:
        facts["heat_ahead"] = outside.heat_ahead
    nights = [site.frosts.get(None), site.frosts.get(tree_pk), outside.frost_on]
    last = max((night for night in nights if night), default=None)
    if last is not None:
        facts["frost_days"] = (on - last).days
    return facts


def frost_ahead(in_season: bool | None, forecast: bool | None) -> bool | None:
    """Tell whether frost may still come, by the season or by the forecast.

    Either says yes; no only when the season says so, or where no season is set the
    forecast of the whole week. A forecast of a week ends no frost season.
    """
    if in_season or forecast:
        return True
    return forecast if in_season is None else False


def read_earlier(
    trees: Iterable[Tree],
    on: date,
    *,
    before_pk: int | None = None,
    to_show: bool = False,
) -> dict[int, EarlierFindings]:
    """Read what was found on trees up to a day, in one query; leaves out as `gather`.

    Gives an entry for each tree, by its number.
    """
    found: dict[int, dict[str, tuple[Earlier, ...]]] = {tree.pk: {} for tree in trees}
    rows = (
        Finding.objects.current()
        .filter(tree__in=found, inspection__seen_on__lte=on)
        .order_by("-inspection__seen_at", "-pk")
        .values_list("tree_id", "pk", "sign", "inspection__seen_on", "answers", "facts")
    )
    if to_show:
        rows = rows.filter(private=False)
    if before_pk is not None:
        rows = rows.filter(pk__lt=before_pk)
    for tree_id, pk, sign, seen_on, answers, facts in rows:
        look = Earlier(pk, seen_on, answers, facts.get("trend", ""))
        by_sign = found[tree_id]
        by_sign[sign] = (*by_sign.get(sign, ()), look)
    return dict(found)

"""Habits: which sign shows on which tree in which month, and what a person answers.

The months are season months, so that the same table serves both hemispheres. The
frequencies are ours, chosen for a believable record: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from orchard.demonstration.ground import DECLINING, LIMY, STICKY
from orchard.demonstration.scene import Scene
from orchard.records.models import Tree
from orchard.science.words import Part
from orchard.services.inspections import SeenSign

Fits = Callable[[Scene, Tree, date], bool]
Answers = Callable[[Scene, Tree, date], dict[str, Any]]
GREEN_OR_BLACK = ("APHISI", "APHIGO", "TOXOAU")
THREE_PART_LEAVES = ("Trifoliate", "Flying", "Carrizo", "Swingle")


@dataclass(frozen=True, slots=True)
class Habit:
    """A sign, its months, how often a look meets it, and on which trees."""

    sign: str
    months: tuple[int, ...]
    share: float
    part: Part
    answers: Answers
    fits: Fits
    notes: tuple[str, ...] = ()


def seen_now(scene: Scene, tree: Tree, day: date, *, most: int = 2) -> list[SeenSign]:
    """Return what a look at a tree finds on a day."""
    month = scene.month(day)
    met = [
        habit
        for habit in HABITS
        if month in habit.months
        and scene.chance(habit.share)
        and habit.fits(scene, tree, day)
    ]
    scene.dice.shuffle(met)
    return [as_seen(scene, habit, tree, day) for habit in met[:most]]


def as_seen(scene: Scene, habit: Habit, tree: Tree, day: date) -> SeenSign:
    """Return a habit as one person noted it."""
    note = scene.dice.choice(habit.notes) if habit.notes and scene.chance(0.4) else ""
    return SeenSign(
        sign=habit.sign,
        answers=habit.answers(scene, tree, day),
        part=habit.part.value,
        note=note,
        sure=not scene.chance(0.015),
    )


def _any(scene: Scene, tree: Tree, day: date) -> bool:
    return True


def _young(scene: Scene, tree: Tree, day: date) -> bool:
    return scene.age(tree, day) < 5


def _bearing(scene: Scene, tree: Tree, day: date) -> bool:
    return scene.bears(tree, day)


def _ripe(scene: Scene, tree: Tree, day: date) -> bool:
    return scene.is_ripe(tree, day)


def _potted(scene: Scene, tree: Tree, day: date) -> bool:
    return tree.setting == Tree.Setting.CONTAINER


def _in_ground(scene: Scene, tree: Tree, day: date) -> bool:
    return tree.setting == Tree.Setting.GROUND


def _grafted(scene: Scene, tree: Tree, day: date) -> bool:
    return bool(tree.rootstock)


def _sticky(scene: Scene, tree: Tree, day: date) -> bool:
    return tree.code in STICKY


def _limy(scene: Scene, tree: Tree, day: date) -> bool:
    return tree.code in LIMY


def _failing(scene: Scene, tree: Tree, day: date) -> bool:
    return tree.code in DECLINING and scene.standing[tree.code] < 3.2


def _navel(scene: Scene, tree: Tree, day: date) -> bool:
    return tree.kind.group in ("Navel oranges", "Satsumas") and scene.bears(tree, day)


def _frosted(scene: Scene, tree: Tree, day: date) -> bool:
    tender = tree.kind.tender_class in ("T1", "T2") or scene.age(tree, day) < 4
    return tender and any(2 < (day - night).days < 36 for night in scene.frosts)


def _crops_too_soon(scene: Scene, tree: Tree, day: date) -> bool:
    planted = tree.planted_on
    return planted is not None and 200 < (day - planted).days < 1095


def _pct(low: int, high: int, step: int = 5, **more: Any) -> Answers:
    return lambda scene, tree, day: {
        "pct": scene.dice.randrange(low, high + 1, step),
        **more,
    }


def _count(low: int, high: int, **more: Any) -> Answers:
    return lambda scene, tree, day: {
        "count": scene.dice.randint(low, high),
        **more,
    }


def _fixed(**answers: Any) -> Answers:
    return lambda scene, tree, day: dict(answers)


def _aphids(scene: Scene, tree: Tree, day: date) -> dict[str, Any]:
    return {
        "pct": scene.dice.randrange(5, 66, 5),
        "enemies": scene.chance(0.6),
        "ants": tree.code in STICKY,
        "flush": True,
        # Not everybody can tell them apart.
        **({"species": scene.dice.choice(GREEN_OR_BLACK)} if scene.chance(0.8) else {}),
    }


def _leafminer(scene: Scene, tree: Tree, day: date) -> dict[str, Any]:
    high = 70 if scene.age(tree, day) < 4 else 35
    return {"pct": scene.dice.randrange(5, high, 5)}


def _sucker(scene: Scene, tree: Tree, day: date) -> dict[str, Any]:
    return {
        "graft": "below",
        "woody": scene.chance(0.2),
        "leaf3": tree.rootstock.startswith(THREE_PART_LEAVES),
    }


def _scale(scene: Scene, tree: Tree, day: date) -> dict[str, Any]:
    return {
        "pct": scene.dice.randrange(5, 36, 5),
        "ants": scene.chance(0.7),
        "enemies": scene.chance(0.5),
    }


def _gum(scene: Scene, tree: Tree, day: date) -> dict[str, Any]:
    lost = max(0.0, 3.4 - scene.standing[tree.code])
    return {"frac": round(min(0.6, 0.05 + 0.2 * lost), 2)}


HABITS = (
    Habit(
        "leafminer", (5, 6, 7, 8), 0.26, Part.LEAF, _leafminer, _any,
        ("Only on the newest leaves.", "Silver trails, leaf edge rolled."),
    ),
    Habit(
        "aphids", (1, 2, 3), 0.26, Part.SHOOT, _aphids, _any,
        ("Ladybird larvae among them.", "Mostly on the side away from the wind."),
    ),
    Habit(
        "winter_yellow", (10, 11, 12), 0.3, Part.LEAF,
        _pct(5, 30, symmetric=True, side=False, soil="moist", standing_water=False),
        _any, ("Even all round, old leaves only.",),
    ),
    Habit("frost_leaf", (10, 11, 12, 1), 0.6, Part.LEAF, _pct(5, 45), _frosted,
          ("Outer leaves on the open side.",)),
    Habit("fruit_drop", (3, 4), 0.26, Part.FRUIT,
          _count(8, 70, soil="moist", heat_ahead=False), _bearing,
          ("Pea-sized fruitlets on the mulch.",)),
    Habit("sucker", (1, 2, 3, 4, 5, 6, 7, 8), 0.085, Part.TRUNK, _sucker, _grafted,
          ("North side, near the dripper.", "Two of them, thorny.")),
    Habit("fruit_split", (7, 8), 0.24, Part.FRUIT, _pct(2, 17, 3), _navel,
          ("After the first autumn rain.",)),
    Habit("overripe", (9, 10, 11, 12, 1, 2), 0.13, Part.FRUIT, _count(2, 45), _ripe,
          ("Most of it on the ground.", "High up, needs the pole.")),
    Habit("ants_trunk", (1, 2, 3, 4, 5, 6, 7, 8), 0.32, Part.TRUNK, _count(1, 14),
          _sticky, ("They use the hanging branch as a bridge.",)),
    Habit("soft_scale", (2, 3, 4, 5, 6, 7, 8, 9), 0.26, Part.SHOOT, _scale, _sticky,
          ("Back again on the same limb.",)),
    Habit("sooty_mould", (4, 5, 6, 7, 8, 9), 0.1, Part.LEAF,
          _pct(5, 30, ants=False), _sticky),
    Habit("iron_young", (1, 2, 3, 4, 5, 6, 7), 0.3, Part.LEAF,
          _pct(10, 60, soil="moist"), _limy,
          ("Green net on pale leaves, youngest worst.",)),
    Habit("magnesium_v", (6, 7, 8), 0.06, Part.LEAF, _pct(5, 30), _bearing),
    Habit("water_sprout", (3, 4, 5, 6), 0.08, Part.CANOPY,
          _count(1, 4, heat_ahead=False), _bearing),
    Habit("snails", (8, 9, 10, 11, 12, 1), 0.07, Part.TRUNK, _count(1, 9), _young,
          ("Under the trunk guard.",)),
    Habit("chewed", (1, 2, 3, 4), 0.08, Part.LEAF, _pct(5, 25), _any),
    Habit("salt_tips", (5, 6, 7, 8), 0.2, Part.LEAF, _pct(5, 25), _potted,
          ("White crust on the rim of the pot.",)),
    Habit("pot_rootbound", (11, 12), 0.08, Part.CONTAINER, _fixed(yes=True), _potted),
    Habit("thrips_scar", (4, 5, 6), 0.06, Part.FRUIT, _pct(2, 14, 3), _bearing),
    Habit("wind_scar", (4, 5, 9), 0.05, Part.FRUIT, _pct(2, 20, 3), _bearing),
    Habit("weeds_ring", (1, 2, 3, 8), 0.06, Part.SOIL, _pct(10, 40), _in_ground),
    Habit("young_crop", (3, 4, 5), 0.25, Part.FRUIT, _count(2, 12), _crops_too_soon),
    Habit("pale_growing", (2, 3, 4, 5), 0.2, Part.LEAF,
          _pct(20, 60, soil="moist"), _failing),
    Habit("gummosis", (1, 2, 3, 4, 5, 6, 7, 8, 9), 0.16, Part.TRUNK, _gum, _failing,
          ("A hand above the graft, bark dark.",)),
    Habit("leaf_drop", (4, 5, 6, 9), 0.1, Part.LEAF, _pct(5, 20, soil="moist"),
          _failing),
)  # fmt: skip
BY_SIGN = {habit.sign: habit for habit in HABITS}

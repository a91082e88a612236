"""The year: growth stages, frost nights, rain, repotting and the end of harvest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from orchard.demonstration.scene import Scene
from orchard.records.models import Tree
from orchard.science import guide
from orchard.science.events import EventKind
from orchard.science.windows import day_in_season, season_year
from orchard.services import observations

# Season month and day at which a group usually shows a stage: common practice.
STAGES = (
    (1, 8, 7), (1, 24, 31), (2, 12, 55), (2, 22, 60), (3, 2, 65), (3, 16, 69),
    (3, 26, 71), (4, 6, 31), (4, 16, 73), (5, 20, 74), (7, 20, 79), (8, 24, 81),
    (10, 4, 85),
)  # fmt: skip
GROUPS = (
    "Navel oranges",
    "Late oranges",
    "Blood oranges",
    "Lemons",
    "Satsumas",
    "Clementines",
)


@dataclass(frozen=True, slots=True)
class Note:
    """Something of the season that somebody writes down on its day."""

    on: date
    kind: str
    what: str = ""
    bbch: int = 0
    group: str = ""
    code: str = ""
    note: str = ""


def notes_of(scene: Scene, codes: list[str]) -> list[Note]:
    """List all that the seasons bring while the story runs, in order of days."""
    first = season_year(scene.starts_on, scene.latitude)
    last = season_year(scene.ends_on, scene.latitude)
    found = [
        note
        for year in range(first, last + 1)
        for note in _of_year(scene, year, codes)
        if scene.starts_on + timedelta(days=2) < note.on < scene.ends_on
    ]
    return sorted(found, key=lambda note: (note.on, note.kind, note.code, note.group))


def _of_year(scene: Scene, year: int, codes: list[str]) -> Iterator[Note]:
    shift = scene.dice.randint(-5, 5)

    def on(month: int, day: int, more: int = 0) -> date:
        start = day_in_season(year, month, day, scene.latitude)
        return start + timedelta(days=shift + more)

    for month, day, bbch in STAGES:
        for place, group in enumerate(GROUPS):
            yield Note(on(month, day, place % 3 * 3), "stage", bbch=bbch, group=group)
    for month, day, note in (
        (10, 20, "Minus one at the gate, thermometer at breast height."),
        (11, 14, "Ice on the bird bath until nine."),
    ):
        yield Note(on(month, day), "event", EventKind.FROST_NIGHT, note=note)
    yield Note(on(8, 12), "event", EventKind.HEAVY_RAIN, note="31 mm in the gauge.")
    yield Note(
        on(12, 6), "event", EventKind.HEAVY_RAIN, note="27 mm, path under water."
    )
    for code in codes:
        tree = scene.trees[code]
        cultivar = guide.load().cultivars.get(tree.kind.guide_key)
        if cultivar and cultivar.ripe and scene.chance(0.7):
            picked = on(cultivar.ripe[1], 22, scene.dice.randint(0, 14))
            yield Note(picked, "event", EventKind.HARVESTED, code=code)
        if tree.setting == Tree.Setting.CONTAINER and (year + len(code)) % 2:
            yield Note(on(12, 20), "event", EventKind.POTTED, code=code,
                       note="Roots trimmed a finger's width, fresh mix.")  # fmt: skip


def write(scene: Scene, note: Note, day: date, *, by: str) -> None:
    """Write one note of the season in the book, on its day."""
    person = scene.people[by]
    now = scene.at(day, 9, 20)
    if note.kind == "stage":
        observations.note_stage(
            scene.orchard, bbch=note.bbch, seen_on=note.on, group=note.group,
            by=person, now=now,
        )  # fmt: skip
        return
    if note.what == EventKind.FROST_NIGHT:
        scene.frosts.append(note.on)
    tree = None
    if note.code:
        tree = Tree.objects.get(orchard=scene.orchard, code=note.code)
        grown = tree.planted_on is None or tree.planted_on < note.on
        if tree.state != Tree.State.GROWING or not grown:
            return
        if note.what == EventKind.HARVESTED and not scene.bears(tree, note.on):
            return
    observations.note_event(
        scene.orchard, what=note.what, happened_on=note.on, by=person, now=now,
        tree=tree, note=note.note,
    )  # fmt: skip

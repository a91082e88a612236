"""What the story is told with: one function for each thing that happens once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from orchard.demonstration import album
from orchard.demonstration.scene import Scene
from orchard.records.models import Case, SecondLook, Task, Tree
from orchard.science import guide
from orchard.science.words import Part, Verdict
from orchard.services import cases, house_rules, inspections, tasks
from orchard.services.inspections import Logged, SeenSign
from orchard.services.tasks import OneOff

LEAD, OTHER_LEAD = "Tomas Pereval", "Ruth Oakenfell"
COORDINATOR = "Ilda Marrow"
ANA, JORN, MEI = "Ana Solmarin", "Jorn Tavelle", "Mei Harrowan"
Tell = Callable[[Scene, date], None]


def seen(
    scene: Scene,
    code: str,
    day: date,
    *found: SeenSign,
    by: str = ANA,
    hour: int = 10,
    condition: int | None = None,
    note: str = "",
) -> Logged:
    """Record a look that the story needs, with its pictures."""
    person = scene.people[by]
    at = scene.at(day, hour, 10)
    logged = inspections.record(
        standing(scene, code),
        by=person,
        now=at + timedelta(minutes=5),
        seen_at=at,
        findings=found,
        all_well=not found,
        condition=condition,
        note=note,
        key=UUID(int=scene.dice.getrandbits(128), version=4),
    )
    for finding in logged.findings:
        picture = album.of_sign(scene, finding.sign, at, surely=True)
        if picture is not None:
            album.store_of_finding(scene, picture, finding, by=person, at=at)
    return logged


def standing(scene: Scene, code: str) -> Tree:
    """Return a tree afresh, as the doors would."""
    return Tree.objects.select_related("orchard", "kind", "spot__block").get(
        orchard=scene.orchard, code=code
    )


def noted(code: str, sign: str, part: Part, by: str = ANA, **answers: Any) -> Tell:
    """Return what notes one sign on a tree."""

    def tell(scene: Scene, day: date) -> None:
        seen(scene, code, day, SeenSign(sign, answers, part=part.value), by=by)

    return tell


def suspected(scene: Scene, day: date) -> None:
    """Find what must be reported, long ago."""
    seen(
        scene, "A-03", day,
        SeenSign(
            "hlb_mottle", {"symmetric": False, "side": True}, part=Part.LEAF.value,
            note="Four leaves on the east limb, the two halves do not match.",
        ),
        by=MEI,
    )  # fmt: skip


def case_answered(scene: Scene, day: date) -> None:
    """Close the case with the answer of the laboratory."""
    case = Case.objects.in_orchard(scene.orchard).open().get(tree__code="A-03")
    cases.close(
        case,
        by=scene.people[COORDINATOR],
        now=scene.at(day, 15),
        outcome="Laboratory: not found. The mottle is a shortage of zinc. "
        "Nothing needs to be held back any longer.",
    )
    looks = Task.objects.in_orchard(scene.orchard).open().filter(
        kind=Task.Kind.LOOK, tree__code="A-03", private=True
    )  # fmt: skip
    for look in looks.order_by("key"):
        tasks.close(
            look,
            by=scene.people[LEAD],
            now=scene.at(day, 16),
            today=day,
            evidence="Looked at the limb again: no new leaf shows it.",
        )


def case_opened(scene: Scene, day: date) -> None:
    """Find what must be reported, a few days ago."""
    seen(
        scene, "D-04", day,
        SeenSign(
            "one_branch_yellow", {"symmetric": False, "yes": False},
            part=Part.LIMB.value,
            note="One limb towards the wall; leaf halves do not match.",
        ),
        by=JORN,
    )  # fmt: skip


def case_reported(scene: Scene, day: date) -> None:
    """Tell the authority, and close the task with it."""
    task = Task.objects.in_orchard(scene.orchard).open().get(
        kind=Task.Kind.REPORT, tree__code="D-04"
    )  # fmt: skip
    tasks.close(
        task,
        by=scene.people[COORDINATOR],
        now=scene.at(day, 9),
        today=day,
        evidence="Rang the office; they come with their own sample bags.",
    )


def house_rule_set(scene: Scene, day: date) -> None:
    """Set the orchard's own limit for fallen fruit."""
    rows = guide.write_rules(guide.load().signs["overripe"].rules)
    for row in rows:
        conditions = row["if"]
        if conditions == {"count>=": 20}:
            row["if"] = {"count>=": 10}
            row["because"] = (
                "Ten on the ground are too many here: school classes walk below."
            )
    house_rules.set_rule(
        scene.orchard,
        sign="overripe",
        rules=rows,
        reason="A child slipped on fallen fruit; the paths are full from ten o'clock.",
        starts_on=day,
        by=scene.people[COORDINATOR],
        now=scene.at(day, 16),
        today=day,
    )


def corrected(scene: Scene, day: date) -> None:
    """Count mites again and correct the first count."""
    logged = seen(
        scene, "B-02", day,
        SeenSign("red_mite", {"pct": 60, "enemies": False}, part=Part.LEAF.value),
        by=MEI,
    )  # fmt: skip
    inspections.correct(
        logged.inspection,
        by=scene.people[MEI],
        now=scene.at(day, 13),
        reason="Counted again with the lens: it was dust on most of them.",
        findings=[
            SeenSign("red_mite", {"pct": 10, "enemies": True}, part=Part.LEAF.value)
        ],
        condition=4,
    )


def condition_mended(scene: Scene, day: date) -> None:
    """Score a tree upside down, and mend it the same day."""
    logged = seen(scene, "A-01", day, condition=1, by=JORN)
    inspections.correct(
        logged.inspection,
        by=scene.people[LEAD],
        now=scene.at(day, 17),
        reason="Read the scale upside down; five is thriving.",
        all_well=True,
        condition=5,
    )


def withdrawn(scene: Scene, day: date) -> None:
    """Record a look at the wrong tree and take it back."""
    logged = seen(
        scene, "B-04", day,
        SeenSign("leafminer", {"pct": 45}, part=Part.LEAF.value),
        by=ANA,
    )  # fmt: skip
    inspections.withdraw(
        logged.inspection,
        by=scene.people[ANA],
        now=scene.at(day, 12),
        reason="Wrong tree: I stood at the one beside it.",
    )


def overridden(scene: Scene, day: date) -> None:
    """Override the book's verdict with a reason."""
    logged = seen(
        scene, "E-01", day,
        SeenSign("salt_tips", {"pct": 30}, part=Part.LEAF.value),
        by=JORN,
    )  # fmt: skip
    inspections.override(
        logged.findings[0],
        by=scene.people[LEAD],
        now=scene.at(day, 14),
        verdict=Verdict.WATCH,
        reason="Flushed last week, before this was seen; the old tips stay brown.",
    )


def unsure(
    code: str, sign: str, part: Part, note: str, by: str = ANA, **answers: Any
) -> Tell:
    """Return what notes a sign that its observer is not sure of."""

    def tell(scene: Scene, day: date) -> None:
        found = SeenSign(sign, answers, part=part.value, sure=False, note=note)
        seen(scene, code, day, found, by=by)

    return tell


def second_look(code: str, **answers: Any) -> Tell:
    """Return what answers the second look at a tree."""

    def tell(scene: Scene, day: date) -> None:
        look = SecondLook.objects.filter(
            orchard=scene.orchard, answered_at=None, finding__tree__code=code
        ).latest("asked_at")
        inspections.answer_second_look(
            look, by=scene.people[OTHER_LEAD], now=scene.at(day, 15), **answers
        )

    return tell


def the_rest_answered(scene: Scene, day: date) -> None:
    """Answer what has waited long; only the newest questions stay open."""
    for look in inspections.open_second_looks(scene.orchard):
        finding = look.finding
        by = scene.people[LEAD]
        if finding.inspection.by_id == by.pk:
            by = scene.people[OTHER_LEAD]
        inspections.answer_second_look(
            look, by=by, now=scene.at(day, 15, 30), answer="agreed",
            note="Looked together, it is.",
        )  # fmt: skip


def written_down(scene: Scene, day: date) -> None:
    """Enter a sheet of paper in the evening, of somebody who left the phone at home."""
    inspections.record(
        standing(scene, "A-01"),
        by=scene.people[MEI],
        written_by=scene.people[LEAD],
        now=scene.at(day, 18),
        seen_at=scene.at(day, 10, 20),
        all_well=True,
        condition=5,
        note="From the paper sheet: fruit colouring on the south side first.",
    )


def asked_for(scene: Scene, day: date) -> None:
    """Ask for work that no plan knows, at a few trees."""
    codes = [code for code in ("A-01", "B-02", "C-01") if code in scene.trees]
    tasks.ask_for(
        scene.orchard,
        OneOff(
            due_on=day + timedelta(days=12),
            title="Hang the name board for the open day",
            steps="Boards are in the shed, second shelf.\n"
            "Soft tie, two fingers of slack; no nail.",
            evidence="A photo of the board on the tree",
            minutes=5,
        ),
        tasks.trees_named(scene.orchard, codes),
        by=scene.people[COORDINATOR],
        now=scene.at(day, 17),
        today=day,
    )

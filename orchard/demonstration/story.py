"""The story: what happens once, on its day, and is not the ordinary Wednesday."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from orchard.demonstration.ground import CARRIZO, VOLKAMER, Sapling
from orchard.demonstration.lives import life, mended, moved, planted, replaced, tag_lost
from orchard.demonstration.scene import Scene
from orchard.demonstration.spraying import (
    DRY_SOAP,
    SOAP,
    breach_looked_into,
    coppered,
    fed,
    labels_read,
    painted,
    soaped,
)
from orchard.demonstration.tellers import (
    JORN,
    MEI,
    Tell,
    asked_for,
    case_answered,
    case_opened,
    case_reported,
    condition_mended,
    corrected,
    house_rule_set,
    noted,
    overridden,
    second_look,
    suspected,
    the_rest_answered,
    unsure,
    withdrawn,
    written_down,
)
from orchard.science.words import Part
from orchard.services import trees


@dataclass(frozen=True, slots=True)
class Turn:
    """One turn of the story: how many days before the present, and on which tree."""

    days_ago: int
    tell: Tell
    code: str = ""


TURNS = (
    Turn(760, noted("B-02", "broken_branch", Part.LIMB, yes=True), "B-02"),
    Turn(758, tag_lost, "B-02"),
    Turn(700, labels_read),
    Turn(640, painted("A-01", "A-02", "B-01"), "B-01"),
    Turn(690, mended, "D-04"),
    Turn(600, life(trees.died, "A-07", "No leaf left, bark dry."), "A-07"),
    Turn(570, replaced, "A-07"),
    Turn(560, withdrawn, "B-04"),
    Turn(540, noted("C-03", "tie_girdle", Part.TRUNK, yes=True, loose=False), "C-03"),
    Turn(470, moved, "C-12"),
    Turn(460, coppered("B-02", "B-03"), "B-03"),
    Turn(430, noted("B-09", "trimmer_wound", Part.TRUNK, MEI, frac=0.3), "B-09"),
    Turn(400, suspected, "A-03"),
    Turn(372, case_answered, "A-03"),
    Turn(310, life(trees.scion_died, "C-11", "Top dead; all new shoots three-part."),
         "C-11"),
    Turn(280, unsure("C-01", "armoured_scale", Part.LEAF, "Or just old scars?",
                      pct=5, dieback=False), "C-01"),
    Turn(277, second_look("C-01", answer="agreed", note="Covers lift off: scale."),
         "C-01"),
    Turn(264, fed(150, "A-01", "A-02", "B-01", "B-02"), "B-02"),
    Turn(250, house_rule_set),
    Turn(236, soaped(SOAP, "E-01", planned_days=2), "E-01"),
    Turn(196, fed(120, "A-01", "A-02", "B-01", "B-02"), "B-02"),
    Turn(170, noted("C-04", "buried_trunk", Part.TRUNK, MEI, graft_cm=2), "C-04"),
    Turn(150, unsure("D-01", "zinc_manganese", Part.LEAF, "Not sure which shortage.",
                      symmetric=True, pct=20), "D-01"),
    Turn(146, second_look("D-01", answer="other", sign="iron_young",
                           answers={"pct": 30, "soil": "moist"},
                           note="Youngest leaves, fine green net."), "D-01"),
    Turn(95, overridden, "E-01"),
    Turn(52, condition_mended, "A-01"),
    Turn(46, coppered("B-02", "B-03", wind_kmh=19.0), "B-03"),
    Turn(44, breach_looked_into, "B-03"),
    Turn(40, corrected, "B-02"),
    Turn(30, planted(Sapling("A-15", "Navelina", CARRIZO, 0, staked=True)), "A-01"),
    Turn(30, planted(Sapling("B-12", "Eureka lemon", VOLKAMER, 0, staked=True)),
         "B-01"),
    Turn(12, the_rest_answered),
    Turn(9, unsure("B-04", "wind_scar", Part.FRUIT, "Wind or thrips?", JORN, pct=10),
         "B-04"),
    Turn(5, case_opened, "D-04"),
    Turn(4, case_reported, "D-04"),
    Turn(3, unsure("A-03", "magnesium_v", Part.LEAF, "Is this the arrowhead?", pct=10),
         "A-03"),
    Turn(2, written_down, "A-01"),
    Turn(2, asked_for, "A-01"),
    Turn(1, soaped(DRY_SOAP, "A-15"), "A-15"),
)  # fmt: skip


def turns_of(scene: Scene) -> list[tuple[date, Turn]]:
    """List the turns that this orchard is long and large enough for, by day."""
    found = [
        (scene.ends_on - timedelta(days=turn.days_ago), turn)
        for turn in TURNS
        if not turn.code or turn.code in scene.trees
    ]
    return [
        (day, turn) for day, turn in found if day > scene.starts_on + timedelta(days=3)
    ]

"""The closed vocabularies the laws need; stored value is the code, label apart."""

from __future__ import annotations

from enum import StrEnum


class Verdict(StrEnum):
    """What a finding calls for, in rising order of weight."""

    LEAVE = "leave"
    WATCH = "watch"
    ACT = "act"
    REPORT = "report"

    @property
    def rank(self) -> int:
        """Order verdicts: leave 0, watch 1, act 2, report 3."""
        return _RANKS[self]

    @property
    def label(self) -> str:
        """Name the verdict as people read it."""
        return self.value.capitalize()


_RANKS = {verdict: rank for rank, verdict in enumerate(Verdict)}


class Part(StrEnum):
    """Where on the tree, or around it, a sign is seen."""

    WHOLE_TREE = "whole_tree"
    CANOPY = "canopy"
    LEAF = "leaf"
    SHOOT = "shoot"
    BUD = "bud"
    FLOWER = "flower"
    FRUIT = "fruit"
    LIMB = "limb"
    TRUNK = "trunk"
    GRAFT = "graft"
    ROOT = "root"
    SOIL = "soil"
    CONTAINER = "container"
    SITE = "site"


class Season(StrEnum):
    """A quarter of the year, from the first month of spring."""

    SPRING = "spring"
    SUMMER = "summer"
    AUTUMN = "autumn"
    WINTER = "winter"


class Setting(StrEnum):
    """Whether a tree stands in the ground or in a container."""

    GROUND = "ground"
    CONTAINER = "container"


class Measure(StrEnum):
    """What the one number of a finding counts."""

    YES_NO = "yes_no"
    COUNT = "count"
    PCT_LEAVES = "pct_leaves"
    PCT_SHOOTS = "pct_shoots"
    PCT_FRUIT = "pct_fruit"
    PCT_FLOWERS = "pct_flowers"
    PCT_CANOPY = "pct_canopy"
    GIRTH_FRACTION = "girth_fraction"
    LENGTH_CM = "length_cm"
    HOURS = "hours"

    @property
    def fact(self) -> str:
        """Name the fact that carries this measure in the rules."""
        return "pct" if self.value.startswith("pct_") else _FACTS[self.value]


_FACTS = {
    "yes_no": "yes",
    "count": "count",
    "girth_fraction": "frac",
    "length_cm": "cm",
    "hours": "hours",
}


class StepKind(StrEnum):
    """What sort of work a step is, so that frost, heat and bees can hold it back."""

    LOOK = "look"
    PHOTOGRAPH = "photograph"
    MARK = "mark"
    WATER = "water"
    FEED = "feed"
    PRUNE = "prune"
    SPRAY = "spray"
    OIL = "oil"
    MOVE = "move"
    REPOT = "repot"
    CLEAN = "clean"
    PROTECT = "protect"
    REPORT = "report"
    RECORD = "record"
    PEOPLE = "people"
    OTHER = "other"


class LocalStatus(StrEnum):
    """How a pest stands in an orchard's area; the first two must be reported."""

    ABSENT = "absent"
    REGULATED = "regulated"
    COMMON = "common"

    @property
    def must_be_reported(self) -> bool:
        """Say whether a confirmed look at it goes to the authority."""
        return self is not LocalStatus.COMMON


class TreeState(StrEnum):
    """Whether a tree still takes verdicts."""

    ALIVE = "alive"
    DEAD = "dead"
    REMOVED = "removed"
    ROOTSTOCK_ONLY = "rootstock_only"


class GraftPlace(StrEnum):
    """Where a shoot starts, seen from the graft line."""

    ABOVE = "above"
    AT = "at"
    BELOW = "below"


class SoilMoisture(StrEnum):
    """How wet the soil is at finger depth."""

    DRY = "dry"
    MOIST = "moist"
    WET = "wet"


class Trend(StrEnum):
    """How a finding compares with the last one of the same sign."""

    FIRST = "first"
    BETTER = "better"
    SAME = "same"
    WORSE = "worse"


class JobScope(StrEnum):
    """What one task of a care job covers."""

    TREE = "tree"
    BLOCK = "block"
    ORCHARD = "orchard"


class PracticeLevel(StrEnum):
    """How hard a question of the practice is."""

    DRAWING = "drawing"
    ALIKE = "alike"
    PHOTO = "photo"


class JobRole(StrEnum):
    """What the book itself needs a care job for, whatever the job is called.

    A role of `ONE_JOB_ROLES` belongs to exactly one job, every other to one or more.
    """

    COVER_ON = "cover_on"
    COVER_OFF = "cover_off"
    CUT_TEST = "cut_test"
    RIPENESS_TEST = "ripeness_test"
    HARVEST = "harvest"
    WATERING = "watering"
    FEEDING = "feeding"
    PRUNING = "pruning"
    # What follows an event of the season on the page of heat.
    FLUSH = "flush"
    PETAL_FALL = "petal_fall"
    RIPENING = "ripening"
    # A look for a pest that must be reported: nothing that can wait stands before it.
    PEST_WATCH = "pest_watch"
    # What prepares the trees for hot days.
    HEAT = "heat"
    # What makes no sense without a frost season.
    FROST_SEASON = "frost_season"


ONE_JOB_ROLES = frozenset(
    {
        JobRole.COVER_ON,
        JobRole.COVER_OFF,
        JobRole.CUT_TEST,
        JobRole.RIPENESS_TEST,
        JobRole.HARVEST,
        JobRole.HEAT,
    }
)


class WorkKind(StrEnum):
    """What a care job does to a tree, so that a hold can forbid it."""

    PRUNING = "pruning"
    SAMPLING = "sampling"
    FEEDING = "feeding"
    PICKING = "picking"
    PROPAGATING = "propagating"
    MOVING = "moving"
    # Young or fallen fruit taken away.
    CLEARING = "clearing"


class HoldKind(StrEnum):
    """What causes a hold on a tree."""

    OPEN_CASE = "open_case"
    SEVERE_FROST = "severe_frost"
    CUT_TEST_OPEN = "cut_test_open"
    CUT_TEST_FAILED = "cut_test_failed"
    CUT_TEST_UNDONE = "cut_test_undone"
    # After a treatment: nobody works there, nothing is picked.
    ENTRY = "entry"
    HARVEST = "harvest"


class NotWhile(StrEnum):
    """A circumstance in which a care job waits."""

    FROST = "frost"
    HEAT = "heat"
    BLOOM = "bloom"
    HOLD = "hold"


class Lane(StrEnum):
    """A sort of entry in a tree's life; the page can show some and hide others."""

    LOOKS = "looks"
    WORK = "work"
    LIFE = "life"
    WEATHER = "weather"
    PHOTOS = "photos"


class TreatmentKind(StrEnum):
    """What is put on a tree, on its ground or beside it."""

    TRUNK_PAINT = "trunk_paint"
    WOUND_CARE = "wound_care"
    FERTILISER = "fertiliser"
    COMPOST = "compost"
    MANURE = "manure"
    MULCH = "mulch"
    KAOLIN = "kaolin"
    OIL = "oil"
    SOAP = "soap"
    SULFUR = "sulfur"
    COPPER = "copper"
    SPRAY = "spray"
    HERBICIDE = "herbicide"
    BAIT = "bait"
    TRAP = "trap"
    BENEFICIALS = "beneficials"


class RecordProfile(StrEnum):
    """Whose law says what the record of a plant protection product must hold."""

    EU = "eu"
    US = "us"
    AU = "au"
    OTHER = "other"


class PublicUse(StrEnum):
    """Whether plant protection products may be used in a public garden."""

    BANNED = "banned"
    LOW_RISK = "low_risk"
    WITH_NOTICE = "with_notice"


class EntryRule(StrEnum):
    """What a label says of entering after a use."""

    UNKNOWN = "unknown"
    NONE_NEEDED = "none_needed"
    HOURS = "hours"
    UNTIL_DRY = "until_dry"


class Picked(StrEnum):
    """The part of a tree that is picked to be eaten or shown."""

    FRUIT = "fruit"
    LEAF = "leaf"
    FLOWER = "flower"


class Reach(StrEnum):
    """How a tree came to be treated: meant, wetted by drift, or standing beneath."""

    TREATED = "treated"
    DRIFT = "drift"
    BENEATH = "beneath"


class Spread(StrEnum):
    """How a product is put out, which sets how far people stay away."""

    BRUSH = "brush"
    BY_HAND = "by_hand"
    DRENCH = "drench"
    HAND_SPRAYER = "hand_sprayer"
    KNAPSACK = "knapsack"
    AIR_BLAST = "air_blast"
    MIST = "mist"
    STATION = "station"


class Droplets(StrEnum):
    """How fine the drops of a nozzle are."""

    FINE = "fine"
    MEDIUM = "medium"
    COARSE = "coarse"


class ProtectionRule(StrEnum):
    """When a treatment counts as the use of a plant protection product."""

    ALWAYS = "always"
    IF_REGISTERED = "if_registered"
    NEVER = "never"


class TreatmentAsk(StrEnum):
    """What only some kinds of treatment are asked for."""

    GIRTH_CM = "girth_cm"
    HEIGHT_CM = "height_cm"
    COATS = "coats"
    SIDE = "side"
    DILUTION = "dilution"
    SOURCE = "source"
    HEAT_PROOF = "heat_proof"
    ANIMAL = "animal"
    DUG_IN = "dug_in"
    FRUIT_HIGH = "fruit_high"
    DEPTH_CM = "depth_cm"
    POT_TOP_CM = "pot_top_cm"
    POT_BOTTOM_CM = "pot_bottom_cm"
    POT_HEIGHT_CM = "pot_height_cm"
    POT_GAP_CM = "pot_gap_cm"
    SPECIES = "species"
    NUMBER = "number"
    ON_LEAVES = "on_leaves"
    CHECKED_ON = "checked_on"
    REMOVED_ON = "removed_on"

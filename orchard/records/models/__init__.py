"""All tables, so that callers write `from orchard.records.models import Tree`."""

from __future__ import annotations

from orchard.records.models.accounts import Invitation, Membership, SignInTry, User
from orchard.records.models.audit import Change
from orchard.records.models.care_plan import CarePlan
from orchard.records.models.cases import Case, CaseCall
from orchard.records.models.feeding import LeafTest
from orchard.records.models.harvests import (
    Harvest,
    HarvestedTree,
    HarvestShare,
    Recall,
    RecallCall,
)
from orchard.records.models.house_rules import HouseRule
from orchard.records.models.inbox import Receipt
from orchard.records.models.inspections import Finding, Inspection, SecondLook
from orchard.records.models.observations import Happening, StageNote
from orchard.records.models.orchards import Orchard, PestStatus
from orchard.records.models.photos import AS_WIDE_AS, Photo, PhotoConsent, PhotoLink
from orchard.records.models.practice import PracticeAnswer
from orchard.records.models.ripeness import RipenessTest
from orchard.records.models.rounds import Round, RoundStop
from orchard.records.models.sun_hours import DirectSun, Horizon
from orchard.records.models.talks import Slide, SlidePhoto, TalkSet, TalkStep
from orchard.records.models.tasks import (
    BulkChange,
    Closure,
    CutTest,
    Target,
    Task,
    TaskQuerySet,
    TaskRequest,
    job_keys,
)
from orchard.records.models.treatments import (
    DryCheck,
    HoldBreach,
    Product,
    ProductUse,
    TreatedTree,
    Treatment,
    WetSpell,
)
from orchard.records.models.trees import (
    HOSTS,
    Block,
    GrowingTree,
    Kind,
    Spot,
    Stay,
    Tag,
    Tree,
    TreeDates,
    TreeQuerySet,
)
from orchard.records.models.water import Crown, CrownSize, Soil, Watering
from orchard.records.models.weather import (
    Forecast,
    Intake,
    Reading,
    Station,
    WeatherDay,
)

__all__ = [
    "AS_WIDE_AS",
    "Target",
    "job_keys",
    "HOSTS",
    "Block",
    "BulkChange",
    "CarePlan",
    "Case",
    "CaseCall",
    "Change",
    "Closure",
    "CutTest",
    "DirectSun",
    "DryCheck",
    "Harvest",
    "HarvestShare",
    "HarvestedTree",
    "HoldBreach",
    "LeafTest",
    "PracticeAnswer",
    "Product",
    "ProductUse",
    "Recall",
    "RecallCall",
    "TreatedTree",
    "Treatment",
    "WetSpell",
    "Crown",
    "CrownSize",
    "Finding",
    "Forecast",
    "GrowingTree",
    "Happening",
    "Horizon",
    "HouseRule",
    "Inspection",
    "Intake",
    "Invitation",
    "Kind",
    "Membership",
    "Orchard",
    "PestStatus",
    "Photo",
    "PhotoConsent",
    "PhotoLink",
    "Reading",
    "Receipt",
    "RipenessTest",
    "Round",
    "RoundStop",
    "SecondLook",
    "SignInTry",
    "Slide",
    "SlidePhoto",
    "Soil",
    "Spot",
    "StageNote",
    "Station",
    "Stay",
    "Tag",
    "TalkSet",
    "TalkStep",
    "Task",
    "TaskQuerySet",
    "TaskRequest",
    "Tree",
    "TreeQuerySet",
    "TreeDates",
    "User",
    "Watering",
    "WeatherDay",
]

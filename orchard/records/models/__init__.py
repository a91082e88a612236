"""All tables, so that callers write `from orchard.records.models import Tree`."""

from __future__ import annotations

from orchard.records.models.cases import Case
from orchard.records.models.fruit import RipenessTest
from orchard.records.models.ground import Crown, Horizon, Soil, Watering
from orchard.records.models.ledger import Change, HouseRule, Receipt
from orchard.records.models.people import Invitation, Membership, SignInTry, User
from orchard.records.models.photos import Photo, PhotoLink
from orchard.records.models.places import (
    HOSTS,
    Block,
    Kind,
    Orchard,
    PestStatus,
    Spot,
    Stay,
    Tag,
    Tree,
)
from orchard.records.models.rounds import Round, RoundStop
from orchard.records.models.visits import (
    Finding,
    Happening,
    Inspection,
    SecondLook,
    StageNote,
)
from orchard.records.models.weather import (
    Forecast,
    Intake,
    Reading,
    Station,
    WeatherDay,
)
from orchard.records.models.work import (
    CarePlan,
    Closure,
    CutTest,
    Target,
    Task,
    job_keys,
)

__all__ = [
    "Target",
    "job_keys",
    "HOSTS",
    "Block",
    "CarePlan",
    "Case",
    "Change",
    "Closure",
    "CutTest",
    "Crown",
    "Finding",
    "Forecast",
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
    "PhotoLink",
    "Reading",
    "Receipt",
    "RipenessTest",
    "Round",
    "RoundStop",
    "SecondLook",
    "SignInTry",
    "Soil",
    "Spot",
    "StageNote",
    "Station",
    "Stay",
    "Tag",
    "Task",
    "Tree",
    "User",
    "Watering",
    "WeatherDay",
]

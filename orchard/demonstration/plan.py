"""The care plan of the demonstration: what the coordinator set, and why."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from orchard.demonstration.scene import Scene
from orchard.records.models import User
from orchard.services import care_plan


@dataclass(frozen=True, slots=True)
class JobSetting:
    """One job as the coordinator set it."""

    job: str
    reason: str
    active: bool = True
    every_days: int | None = None


SETTINGS = (
    JobSetting(
        "weed_ring", "The gardeners weed the rings; we only note them.", active=False
    ),
    JobSetting("windfalls", "Picked up on every visit, without a task.", active=False),
    JobSetting("bloom_log", "Bloom is noted for each group of trees.", active=False),
    JobSetting("portrait", "The educator plans the portraits.", active=False),
    JobSetting("leach", "Our water is soft.", active=False),
    JobSetting(
        "monthly_look",
        "A round looks at every tree four times a year; visitors tell us the rest.",
        every_days=91,
    ),
    JobSetting(
        "sucker_round",
        "Checks find most of them; two rounds a year will do.",
        every_days=180,
    ),
    JobSetting("drip_check", "Every three weeks; the lines are new.", every_days=21),
    JobSetting("water_new", "One long soak each Wednesday.", every_days=7),
)


def settle(scene: Scene, *, by: User, now: datetime, today: date) -> None:
    """Set the care plan as the coordinator of the first orchard does."""
    for row in SETTINGS:
        care_plan.set_job(
            scene.orchard,
            row.job,
            by=by,
            now=now,
            today=today,
            active=row.active,
            reason=row.reason,
            every_days=row.every_days,
        )

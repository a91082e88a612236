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
        "flush_scout", "Every check looks at the new growth anyway.", active=False
    ),
    JobSetting("petal_fall_check", "Too few hands in that month.", active=False),
    JobSetting(
        "weed_ring", "The gardeners weed the rings; we only note them.", active=False
    ),
    JobSetting("windfalls", "Picked up on every visit, without a task.", active=False),
    JobSetting("bloom_log", "Bloom is noted for each group of trees.", active=False),
    JobSetting(
        "measure", "Measured every third year, next time all at once.", active=False
    ),
    JobSetting("sun_survey", "Counted when the orchard was planted.", active=False),
    JobSetting("drain", "One walk after rain, noted where water stands.", active=False),
    JobSetting("frost_after", "Checks in winter look for frost damage.", active=False),
    JobSetting(
        "limb_props", "Props stand ready; checks note heavy limbs.", active=False
    ),
    JobSetting("portrait", "The educator plans the portraits.", active=False),
    JobSetting("sprout_round", "Noted as a sign where they matter.", active=False),
    JobSetting("ant_bands", "Bands are looked at where ants were noted.", active=False),
    JobSetting("leach", "Our water is soft.", active=False),
    JobSetting("rodent_guard", "Looked at on the walk round the trunks.", active=False),
    JobSetting("feed_3", "Only pale trees get it, decided at the tree.", active=False),
    JobSetting(
        "sucker_round",
        "Checks find most of them; two rounds a year will do.",
        every_days=180,
    ),
    JobSetting("psyllid_watch", "Twice a year on every tree.", every_days=184),
    JobSetting(
        "trunk_ring", "Three rounds in two years; checks see the rest.", every_days=240
    ),
    JobSetting(
        "tag_check", "Every second year; most tags are of metal.", every_days=730
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

"""The care plan of the demonstration: what the coordinator set, and why."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from orchard.demonstration.scene import Scene
from orchard.records.models import User
from orchard.services import care_plan


@dataclass(frozen=True, slots=True)
class Setting:
    """One job as the coordinator set it."""

    job: str
    reason: str
    active: bool = True
    every_days: int | None = None


SETTINGS = (
    Setting("flush_scout", "Every check looks at the new growth anyway.", active=False),
    Setting("petal_fall_check", "Too few hands in that month.", active=False),
    Setting("weed_ring", "The gardeners weed the rings; we only note them.",
            active=False),
    Setting("windfalls", "Picked up on every visit, without a task.", active=False),
    Setting("bloom_log", "Bloom is noted for each group of trees.", active=False),
    Setting("measure", "Measured every third year, next time all at once.",
            active=False),
    Setting("sun_survey", "Counted when the orchard was planted.", active=False),
    Setting("drain", "One walk after rain, noted where water stands.", active=False),
    Setting("frost_after", "Checks in winter look for frost damage.", active=False),
    Setting("limb_props", "Props stand ready; checks note heavy limbs.", active=False),
    Setting("portrait", "The educator plans the portraits.", active=False),
    Setting("sprout_round", "Noted as a sign where they matter.", active=False),
    Setting("ant_bands", "Bands are looked at where ants were noted.", active=False),
    Setting("leach", "Our water is soft.", active=False),
    Setting("rodent_guard", "Looked at on the walk round the trunks.", active=False),
    Setting("feed_3", "Only pale trees get it, decided at the tree.", active=False),
    Setting("sucker_round", "Checks find most of them; two rounds a year will do.",
            every_days=180),
    Setting("psyllid_watch", "Twice a year on every tree.", every_days=184),
    Setting("trunk_ring", "Three rounds in two years; checks see the rest.",
            every_days=240),
    Setting("tag_check", "Every second year; most tags are of metal.", every_days=730),
    Setting("drip_check", "Every three weeks; the lines are new.", every_days=21),
    Setting("water_new", "One long soak each Wednesday.", every_days=7),
)  # fmt: skip


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

"""What was put on trees: two seasons of paint, feed, soap and copper."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from orchard.demonstration.scene import Scene
from orchard.demonstration.tellers import COORDINATOR, LEAD, OTHER_LEAD, Tell
from orchard.records.models import Product, Task, Tree
from orchard.science.words import TreatmentKind
from orchard.services import tasks, treatments
from orchard.services.treatments import Amount, Use

# Invented products of invented makers, as their labels would be typed.
SOAP, DRY_SOAP = "Fontela leaf soap", "Fontela garden soap"
COPPER, FEED = "Pedra Azul 50", "Horta slow feed 12-4-8"
LABELS: tuple[tuple[TreatmentKind, dict[str, Any]], ...] = (
    (
        TreatmentKind.SOAP,
        {
            "name": SOAP,
            "registration": "SV-0417",
            "ingredients": [["potassium salts of fatty acids", 510.0, "g/L"]],
            "crops": "citrus\nfruit trees",
            "entry_rule": "hours",
            "entry_hours": 4.0,
            "fruit_days": 1,
            "leaf_days": 1,
            "flower_days": 1,
            "most_dose": 20.0,
            "dose_unit": "ml_per_l",
            "is_low_risk": True,
        },
    ),
    (
        TreatmentKind.SOAP,
        {
            "name": DRY_SOAP,
            "registration": "SV-0423",
            "ingredients": [["potassium salts of fatty acids", 480.0, "g/L"]],
            "crops": "citrus",
            "entry_rule": "until_dry",
            "fruit_days": 0,
            "most_dose": 20.0,
            "dose_unit": "ml_per_l",
            "is_low_risk": True,
        },
    ),
    (
        TreatmentKind.COPPER,
        {
            "name": COPPER,
            "registration": "SV-0090",
            "ingredients": [["copper hydroxide, as copper", 500.0, "g/kg"]],
            "crops": "citrus",
            "entry_rule": "hours",
            "entry_hours": 24.0,
            "fruit_days": 14,
            "most_dose": 3.0,
            "dose_unit": "g_per_l",
            "most_uses": 2,
            "between_days": 14,
        },
    ),
    (TreatmentKind.FERTILISER, {"name": FEED, "nitrogen_percent": 12.0}),
)
LICENCE: dict[str, Any] = {
    "applicator": LEAD,
    "licence": "SV-A-118",
    "use_type": "area",
}
CALM: dict[str, Any] = {"wind_kmh": 7.0, "wind_from": "NW", "temperature_c": 18.0}


def labels_read(scene: Scene, day: date) -> None:
    """Type the labels of the products in the shed."""
    for kind, label in LABELS:
        treatments.add_product(
            scene.orchard,
            by=scene.people[LEAD],
            now=scene.at(day, 9),
            today=day,
            kind=kind.value,
            checked_on=day,
            **label,
        )


def painted(*codes: str) -> Tell:
    """Return what paints trunks white."""

    def tell(scene: Scene, day: date) -> None:
        use = _use(
            scene, TreatmentKind.TRUNK_PAINT, scene.at(day, 11), codes,
            method="brush", details={"height_cm": 60.0, "side": "all round",
                                     "dilution": "1:1"},
        )  # fmt: skip
        _record(scene, use, day, by=OTHER_LEAD)

    return tell


def fed(grams: float, *codes: str) -> Tell:
    """Return what gives each of some trees so many grams of feed."""

    def tell(scene: Scene, day: date) -> None:
        trees = _trees(scene, codes)
        amount = Amount(
            _product(scene, FEED), grams, "g_per_tree", grams * len(trees), "g"
        )
        use = _use(
            scene, TreatmentKind.FERTILISER, scene.at(day, 10), codes, amount,
            method="by_hand",
        )  # fmt: skip
        _record(scene, use, day, by=OTHER_LEAD)

    return tell


def soaped(name: str, *codes: str, planned_days: int = 0) -> Tell:
    """Return what sprays soap against aphids, planned some days before, or not."""

    def tell(scene: Scene, day: date) -> None:
        day = _thursday(day) if planned_days else day
        amount = Amount(_product(scene, name), 10.0, "ml_per_l", 100.0, "mL")
        use = _use(
            scene, TreatmentKind.SOAP, scene.at(day, 8, 30), codes, amount,
            target="aphids", method="knapsack", droplets="medium", mix_litres=10.0,
            size=float(len(codes)), size_unit="trees", **LICENCE, **CALM,
        )  # fmt: skip
        plan = None
        if planned_days:
            before = day - timedelta(days=planned_days)
            plan = treatments.plan(
                scene.orchard,
                use,
                by=scene.people[LEAD],
                now=scene.at(before, 17),
                today=before,
            )
        _record(scene, use, day, by=LEAD, plan=plan)

    return tell


def coppered(*codes: str, wind_kmh: float = 7.0) -> Tell:
    """Return what sprays copper; in too much wind the book keeps it as a breach."""

    def tell(scene: Scene, day: date) -> None:
        day = _thursday(day)
        amount = Amount(_product(scene, COPPER), 2.0, "g_per_l", 24.0, "g", "L-33")
        use = _use(
            scene, TreatmentKind.COPPER, scene.at(day, 9), codes, amount,
            target="black rot of fruit", method="knapsack", droplets="coarse",
            mix_litres=12.0, size=60.0, size_unit="m2", **{
                **LICENCE, **CALM, "wind_kmh": wind_kmh,
            },
        )  # fmt: skip
        _record(scene, use, day, by=LEAD)

    return tell


def _thursday(day: date) -> date:
    """Return the last Thursday: the crews come on Wednesdays, and nobody is there."""
    return day - timedelta(days=(day.weekday() - 3) % 7)


def _record(scene: Scene, use: Use, day: date, *, by: str, plan: Any = None) -> None:
    treatments.record(
        scene.orchard,
        use,
        by=scene.people[by],
        now=max(scene.at(day, 12), use.ended_at),
        today=day,
        plan=plan,
    )


def _use(
    scene: Scene,
    kind: TreatmentKind,
    ended_at: datetime,
    codes: Sequence[str],
    *amounts: Amount,
    details: dict[str, Any] | None = None,
    **fields: Any,
) -> Use:
    return Use(
        kind,
        ended_at=ended_at,
        started_at=ended_at - timedelta(minutes=40),
        trees=tuple(_trees(scene, codes)),
        amounts=amounts,
        fields=fields,
        details=details or {},
    )


def _trees(scene: Scene, codes: Sequence[str]) -> list[Tree]:
    rows = Tree.objects.filter(orchard=scene.orchard, code__in=codes)
    return list(rows.select_related("kind", "orchard").order_by("code"))


def _product(scene: Scene, name: str) -> Product:
    return Product.objects.current().get(orchard=scene.orchard, name=name)


def breach_looked_into(scene: Scene, day: date) -> None:
    """Close the coordinator's task about the copper in too much wind."""
    for task in (
        Task.objects.in_orchard(scene.orchard)
        .open()
        .filter(kind=Task.Kind.ONCE, title__startswith="Look into the treatment")
    ):
        tasks.close(
            task,
            by=scene.people[COORDINATOR],
            now=scene.at(day, 15),
            today=day,
            evidence="Talked it over: the wind meter now hangs beside the sprayer.",
        )

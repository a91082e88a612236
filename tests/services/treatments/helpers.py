"""Products, orchards and uses that the tests of treatments start from."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from orchard.records.models import Orchard, Product, Tree, User
from orchard.science.words import TreatmentKind
from orchard.services import treatments
from orchard.services.treatments import Amount, Use

ROME = ZoneInfo("Europe/Rome")
CONTACTS = {
    "ambulance_phone": "112",
    "poison_phone": "0800 1",
    "hospital": "Saint Anne, Mill Road 2",
    "access_point": "North gate",
    "responsible_person": "Cora, 0170 2",
    "environment_phone": "0800 3",
    "authority_phone": "0800 4",
}
SOAP = {
    "name": "Leaf soap",
    "registration": "R-100",
    "ingredients": [["potassium salts of fatty acids", 515.0, "g/L"]],
    "crops": "citrus\nfruit trees",
    "entry_rule": "hours",
    "entry_hours": 4.0,
    "fruit_days": 0,
    "leaf_days": 0,
    "flower_days": 0,
    "most_dose": 20.0,
    "dose_unit": "ml_per_l",
}
# A record with nothing missing from it, whatever the profile.
WHOLE = {
    "use_type": "area",
    "target": "aphids",
    "method": "knapsack",
    "size": 3.0,
    "size_unit": "trees",
    "mix_litres": 10.0,
    "applicator": "Lee",
    "licence": "L-7",
    "owner": "Alderbrook trust",
    "wind_kmh": 8.0,
    "wind_from": "NW",
    "temperature_c": 20.0,
}


def allow(orchard: Orchard, **changes: Any) -> Orchard:
    """Let an orchard use plant protection, with its emergency contacts entered."""
    values = {"public_use": "with_notice", **CONTACTS, **changes}
    for name, value in values.items():
        setattr(orchard, name, value)
    orchard.save()
    return orchard


def add(
    orchard: Orchard, by: User, now: datetime, kind: str = "soap", **label: Any
) -> Product:
    """Add a product of a kind; what is not said is as for the soap."""
    values = {**SOAP, "kind": kind, "checked_on": now.date(), **label}
    return treatments.add_product(orchard, by=by, now=now, today=now.date(), **values)


def use(
    product: Product | None,
    *trees: Tree,
    at: datetime,
    minutes: int = 30,
    kind: str = "",
    dose: float | None = 10.0,
    total: float | None = 100.0,
    unit: str = "mL",
    drift: tuple[Tree, ...] = (),
    beneath: tuple[Tree, ...] = (),
    details: dict[str, Any] | None = None,
    expires_on: Any = None,
    **fields: Any,
) -> Use:
    """Bring a use that ended at a moment; fields of `WHOLE` stand unless changed."""
    amounts = ()
    if product is not None:
        amounts = (
            Amount(
                product,
                dose,
                product.dose_unit if dose is not None else "",
                total,
                unit if total is not None else "",
                expires_on=expires_on,
            ),
        )
    return Use(
        TreatmentKind(kind or (product.kind if product else "trunk_paint")),
        ended_at=at,
        started_at=at - timedelta(minutes=minutes),
        trees=trees,
        drift=drift,
        beneath=beneath,
        amounts=amounts,
        fields={**WHOLE, **fields},
        details=details or {},
    )

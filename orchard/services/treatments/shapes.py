"""What somebody brings of one treatment, not yet checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import Any

from orchard.records.models import Product, Tree
from orchard.science import guide
from orchard.science.words import ProtectionRule, TreatmentKind


@dataclass(frozen=True, slots=True)
class Amount:
    """A product in the tank or on the brush: its dose, all of it that was used."""

    product: Product
    dose: float | None = None
    dose_unit: str = ""
    total: float | None = None
    total_unit: str = ""
    batch: str = ""
    expires_on: date | None = None


@dataclass(frozen=True)
class Use:
    """A use of products on trees, done or planned, as it is typed.

    `fields` are those of the record of a treatment that no rule needs by name here.
    """

    kind: TreatmentKind
    ended_at: datetime
    started_at: datetime | None = None
    trees: tuple[Tree, ...] = ()
    # Wetted by drift, and what grows beneath the treated crowns.
    drift: tuple[Tree, ...] = ()
    beneath: tuple[Tree, ...] = ()
    amounts: tuple[Amount, ...] = ()
    fields: Mapping[str, Any] = field(default_factory=dict)
    details: Mapping[str, Any] = field(default_factory=dict)

    @cached_property
    def is_protection(self) -> bool:
        """Tell whether it is the use of a plant protection product."""
        return is_protection(self.kind, [amount.product for amount in self.amounts])

    @property
    def reached(self) -> tuple[Tree, ...]:
        """List all trees it reached, whatever way."""
        return (*self.trees, *self.drift, *self.beneath)

    def get(self, name: str, default: Any = None) -> Any:
        """Return a field of the record, or what stands for nothing typed."""
        value = self.fields.get(name)
        return default if value is None or value == "" else value


def is_protection(kind: TreatmentKind, products: list[Product]) -> bool:
    """Tell whether a kind of treatment with these products is plant protection."""
    rule = guide.load().treatments[kind].protection
    if rule is ProtectionRule.IF_REGISTERED:
        return any(product.registration for product in products)
    return rule is ProtectionRule.ALWAYS


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that a use breaks: its code, and a sentence that says how."""

    code: str
    text: str
    field: str = ""

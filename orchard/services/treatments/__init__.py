"""Treatments: products and their labels, uses planned and done, and what they hold."""

from __future__ import annotations

from orchard.services.treatments.checks import asked_for
from orchard.services.treatments.crops import unread_crops
from orchard.services.treatments.drying import (
    confirm_dry,
    note_wet_spell,
    set_adviser_day,
    withdraw_dry_check,
    withdraw_wet_spell,
)
from orchard.services.treatments.lists import (
    ClosedGroup,
    ListFilter,
    RegisterRow,
    carried_out,
    first_treated,
    newer_record,
    only_tree,
    overview,
    register,
    sketch_around,
    treated_page,
    treated_trees,
    treatments_page,
    used_on,
    years_of,
)
from orchard.services.treatments.needed import amounts_needed, needed_for
from orchard.services.treatments.opening import asks_for_dry, waiting_for_dry
from orchard.services.treatments.products import (
    add_product,
    correct_product,
    earlier_readings,
    newer_reading,
    products_of,
    unknown_of,
    withdraw_product,
)
from orchard.services.treatments.record import (
    Recorded,
    check_plan,
    correct,
    kind_of,
    plan,
    plans_of,
    record,
    withdraw,
)
from orchard.services.treatments.shapes import Amount, Breach, Use, is_protection
from orchard.services.treatments.warnings import warnings_for, warnings_of

__all__ = [
    "Amount",
    "Breach",
    "ClosedGroup",
    "ListFilter",
    "RegisterRow",
    "carried_out",
    "newer_reading",
    "newer_record",
    "overview",
    "register",
    "treated_page",
    "first_treated",
    "treated_trees",
    "treatments_page",
    "used_on",
    "years_of",
    "Recorded",
    "Use",
    "add_product",
    "amounts_needed",
    "asked_for",
    "asks_for_dry",
    "check_plan",
    "confirm_dry",
    "correct",
    "correct_product",
    "earlier_readings",
    "is_protection",
    "kind_of",
    "needed_for",
    "note_wet_spell",
    "only_tree",
    "plan",
    "plans_of",
    "products_of",
    "record",
    "set_adviser_day",
    "sketch_around",
    "unknown_of",
    "unread_crops",
    "waiting_for_dry",
    "warnings_for",
    "warnings_of",
    "withdraw",
    "withdraw_dry_check",
    "withdraw_product",
    "withdraw_wet_spell",
]

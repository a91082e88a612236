"""Treatments: what is closed, what was used, and what labels say."""

from __future__ import annotations

from orchard.web.pages.treatments.forms import (
    DryForm,
    ProductForm,
    TreatmentForm,
    WetSpellForm,
    amount_forms,
    amounts_in,
)
from orchard.web.pages.treatments.products import (
    product_correction,
    product_new,
    product_show,
    product_withdrawal,
    products,
)
from orchard.web.pages.treatments.views import (
    adviser,
    choose_kind,
    correction,
    dry,
    index,
    new,
    plan_new,
    posting,
    register,
    register_export,
    show,
    wet_spell,
    withdraw_dry,
    withdrawal,
)

__all__ = [
    "DryForm",
    "ProductForm",
    "TreatmentForm",
    "WetSpellForm",
    "adviser",
    "amount_forms",
    "amounts_in",
    "choose_kind",
    "correction",
    "dry",
    "index",
    "new",
    "plan_new",
    "posting",
    "product_correction",
    "product_new",
    "product_show",
    "product_withdrawal",
    "products",
    "register",
    "register_export",
    "show",
    "wet_spell",
    "withdraw_dry",
    "withdrawal",
]

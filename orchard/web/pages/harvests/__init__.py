"""Lots picked, where they went, yields and recalls."""

from __future__ import annotations

from orchard.web.pages.harvests.forms import PickForm, ShareForm
from orchard.web.pages.harvests.recalls import (
    recall_of_lot,
    recall_of_treatment,
    recall_show,
    recalls,
)
from orchard.web.pages.harvests.views import (
    correction,
    index,
    label,
    new,
    picked_text,
    share_correction,
    share_new,
    share_text,
    share_withdrawal,
    show,
    withdrawal,
)

__all__ = [
    "PickForm",
    "ShareForm",
    "correction",
    "index",
    "label",
    "new",
    "picked_text",
    "recall_of_lot",
    "recall_of_treatment",
    "recall_show",
    "recalls",
    "share_correction",
    "share_new",
    "share_text",
    "share_withdrawal",
    "show",
    "withdrawal",
]

"""What whoever gets fruit is told, by what it is."""

from __future__ import annotations

import re
from collections.abc import Iterable

from django.utils.translation import gettext as _

from orchard.records.models import Kind

# Whose furanocoumarins keep the gut from breaking down medicines (FDA, "Grapefruit
# juice and some drugs don't mix"), and whose juice and sap make skin burn in the sun.
WITH_MEDICINES = re.compile(
    r"\b(grapefruit|pumm?elo|pomelo|tangelo|sour orange|seville)s?\b", re.IGNORECASE
)
ON_SKIN = re.compile(r"\b(lime|limequat|makrut|rue)s?\b", re.IGNORECASE)


def notes_for(kinds: Iterable[Kind]) -> list[str]:
    """Return what is printed for whoever gets fruit of these cultivars."""
    names = [f"{kind.name}. {kind.guide_key}. {kind.group}" for kind in kinds]
    notes = []
    if any(WITH_MEDICINES.search(name) for name in names):
        notes.append(_("This fruit may change how medicines work. Ask a pharmacist."))
    if any(ON_SKIN.search(name) for name in names):
        notes.append(
            _(
                "Juice or sap of it on skin blisters in the sun. Wear gloves and wash "
                "it off."
            )
        )
    return notes

"""The crops on a label in the words that people type, and what stays locked."""

from __future__ import annotations

import pytest

from orchard.records.models import Kind
from orchard.science import guide
from orchard.services import treatments
from orchard.services.treatments.crops import is_on_label
from tests.conftest import NOW, make_tree
from tests.services.treatments.helpers import add, allow

pytestmark = pytest.mark.django_db
CULTIVARS = {
    "valencia": ("Valencia", "Late oranges"),
    "owari_satsuma": ("Owari satsuma", "Satsumas"),
    "murcott": ("Murcott", "Tangors"),
    "eureka_lemon": ("Eureka lemon", "Lemons"),
    "makrut": ("Makrut lime", "Makrut limes"),
    "marsh": ("Marsh grapefruit", "White grapefruit"),
    "yuzu": ("Yuzu", "Yuzu"),
}


@pytest.fixture
def grove(orchard):
    """One tree of each cultivar, by the key of the guide."""
    allow(orchard)

    found = {}
    for number, (name, group) in enumerate(CULTIVARS.values()):
        [key] = [k for k, row in guide.load().cultivars.items() if row.name == name]
        kind = Kind.objects.create(
            orchard=orchard, name=f"{name} {number}", group=group, guide_key=key
        )
        found[name] = make_tree(orchard, f"G-{number}", kind=kind)
    return found


@pytest.mark.parametrize(
    ("crops", "names"),
    [
        ("Citrus", "all"),
        ("CITRUS FRUIT", "all"),
        ("citrus trees", "all"),
        ("Citrus fruits (Crop Group 10-10)", "all"),
        ("Crop group 10-10", "all"),
        ("Citrus Fruits Group 10", "all"),
        ("Fruit trees", "all"),
        ("Oranges", "Valencia"),
        ("Orange, sweet", "Valencia"),
        ("orange trees", "Valencia"),
        ("Oranges, lemons and grapefruit", "Valencia, Eureka lemon, Marsh grapefruit"),
        ("Mandarins", "Owari satsuma"),
        ("Tangerines", "Owari satsuma"),
        ("Satsuma", "Owari satsuma"),
        ("Lemons; limes", "Eureka lemon"),
        ("Makrut limes", "Makrut lime"),
        ("Late oranges", "Valencia"),
        ("Grapefruits", "Marsh grapefruit"),
        # What leaves something out, or means something else, is never guessed at.
        ("Citrus, except lemons", ""),
        ("Citrus (nursery stock only)", ""),
        ("Non-bearing citrus", ""),
        ("Citrus rootstocks", ""),
        ("Orange-red lilies", ""),
        ("Stone fruit", ""),
        ("Tomatoes", ""),
        ("", ""),
    ],
)
def test_the_words_of_a_label(orchard, grove, lee, crops, names):
    product = add(orchard, lee, NOW, crops=crops)
    found = [name for name, tree in grove.items() if is_on_label(product, tree)]
    expected = list(grove) if names == "all" else [n for n in names.split(", ") if n]
    assert found == expected


def test_what_is_not_understood_is_named(orchard, grove, lee):
    lines = "Citrus, except lemons\nOranges\nGizmo berries\nMurcott 2"
    product = add(orchard, lee, NOW, crops=lines)
    assert treatments.unread_crops(product) == [
        "Citrus, except lemons", "Gizmo berries",
    ]  # fmt: skip

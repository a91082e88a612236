from __future__ import annotations

import pytest

from orchard.science import guide
from orchard.services import facts
from tests.conftest import TODAY

pytestmark = pytest.mark.django_db


def test_every_fact_gathered_is_one_the_guide_knows(tree):
    gathered = facts.gather(tree, on=TODAY).base
    assert gathered
    assert gathered.keys() <= guide.load().facts.keys()

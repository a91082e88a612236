"""What the rows of the guide may name: the keys of its other rows."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, field

from orchard.science.guide.rules import Fact


@dataclass(frozen=True, slots=True)
class References:
    """The keys a row may name.

    A fact whose own row is faulty is doubtful: what leans on it is not judged, so that
    one fault is not told as ten.
    """

    facts: Mapping[str, Fact] = field(default_factory=dict)
    doubtful_facts: Container[str] = ()
    sources: Container[str] = ()
    pests: Container[str] = ()
    regions: Container[str] = ()
    tenderness: Container[str] = ()
    cultivars: Container[str] = ()

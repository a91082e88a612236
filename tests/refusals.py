"""How a test says which refusal it expects."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from orchard.services.errors import Refused


@contextmanager
def refused(code: str, match: str | None = None) -> Iterator[pytest.ExceptionInfo]:
    """Expect a refusal with this code, and a message that matches."""
    with pytest.raises(Refused, match=match) as caught:
        yield caught
    assert caught.value.code == code

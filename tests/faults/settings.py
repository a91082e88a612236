"""The settings of a server that is about to be ill-treated: the tests' own."""

from __future__ import annotations

from tests.settings import *  # noqa: F403

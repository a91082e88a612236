"""The settings of a server that is about to be ill-treated: the tests' own."""

from __future__ import annotations

import os

from tests.settings import *  # noqa: F403

if os.environ.get("FAULTS_HASHED"):
    from orchard.settings import STORAGES  # noqa: F401
ROOT_URLCONF = os.environ.get("FAULTS_URLS", "orchard.web.urls")

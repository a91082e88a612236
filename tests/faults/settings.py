"""The settings of a server that is about to be ill-treated: the tests' own."""

from __future__ import annotations

import os

from tests.settings import *  # noqa: F403

ROOT_URLCONF = os.environ.get("FAULTS_URLS", "orchard.web.urls")

"""The project's settings, with what makes tests quick and repeatable."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

os.environ.setdefault("SECRET_KEY", "only-for-tests")
os.environ.setdefault("HTTPS", "False")
os.environ.setdefault("DATA_DIR", tempfile.mkdtemp(prefix="orchard-tests-"))

from orchard.settings import *  # noqa: E402, F403
from orchard.settings import DATA_DIR, DATABASES  # noqa: E402

(Path(DATA_DIR) / "static").mkdir(parents=True, exist_ok=True)
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    # Tests outlive no power cut: what waits for the disk is looked at by itself.
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # Nor do they wait for the disk at every step of the database.
    DATABASES["default"]["OPTIONS"]["init_command"] = DATABASES["default"]["OPTIONS"][
        "init_command"
    ].replace("synchronous=FULL", "synchronous=OFF")
    DATABASES["default"]["TEST"] = {"NAME": str(Path(DATA_DIR) / "test.sqlite3")}

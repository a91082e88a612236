"""The project's settings, with what makes tests quick and repeatable."""

from __future__ import annotations

import atexit
import os
import shutil
import signal
import tempfile
from pathlib import Path

os.environ.setdefault("SECRET_KEY", "only-for-tests")
os.environ.setdefault("HTTPS", "False")
TEMPORARY = None
if "DATA_DIR" not in os.environ:
    # All that this process and those it starts write lies in one folder, which goes
    # with it: browsers, servers and pytest itself ask for temporary places here.
    TEMPORARY = Path(tempfile.mkdtemp(prefix="orchard-"))
    atexit.register(shutil.rmtree, TEMPORARY, ignore_errors=True)
    # Whoever is told to stop says where it stood, stops its servers and tidies up.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    # A database server is another user: it may pass, not read.
    TEMPORARY.chmod(0o711)
    tempfile.tempdir = os.environ["TMPDIR"] = str(TEMPORARY)
    os.environ["DATA_DIR"] = str(TEMPORARY / "data")

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
    DATABASES["default"]["TEST"] = {
        "NAME": os.environ.get("TEST_DATABASE", str(Path(DATA_DIR) / "test.sqlite3"))
    }


def temporary_leftovers() -> list[str]:
    """Name what lies in the temporary folder and is removed by nobody but its end."""
    if TEMPORARY is None:
        return []
    return sorted(
        path.name
        for path in TEMPORARY.iterdir()
        if path.name != "data" and not path.name.startswith("pytest-of-")
    )

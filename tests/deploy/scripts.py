"""The scripts of a server, run as its keeper runs them: with its file of settings."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.settings import DATA_DIR

ROOT = Path(__file__).resolve().parents[2]
# Each script starts many processes: what one has compiled serves them all where there
# is a place for it, and is not left among the sources where there is none.
COMPILED = {
    name: value
    for name, value in os.environ.items()
    if name in ("PYTHONPYCACHEPREFIX", "PYTHONDONTWRITEBYTECODE")
}


def run(script: str, *words: object, env_file: Path, **more: str):
    """Run a script of `deploy/` with nothing set but what its file of settings says."""
    surroundings = {
        "PATH": os.environ["PATH"],
        "HOME": os.environ.get("HOME", "/"),
        "TMPDIR": os.environ.get("TMPDIR", "/tmp"),  # noqa: S108
        "ORCHARD_ENV": str(env_file),
        "ORCHARD_PYTHON": sys.executable,
        **COMPILED,
        **more,
    }
    return subprocess.run(
        ["sh", f"deploy/{script}", *map(str, words)],
        cwd=ROOT,
        env=surroundings,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@contextmanager
def open_folder() -> Iterator[Path]:
    """Make a folder that other users may pass through, as those of pytest are not."""
    folder = Path(tempfile.mkdtemp(dir=DATA_DIR))
    folder.chmod(0o711)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def settings_file(folder: Path, **values: object) -> Path:
    """Write a file of settings as `/etc/orchard.env` is one."""
    folder.mkdir(parents=True, exist_ok=True)
    key = folder / "secret-key"
    if not key.exists():
        key.write_text("k" * 60)
    values = {
        "SECRET_KEY_FILE": key,
        "DATA_DIR": folder,
        "HTTPS": "False",
        "ALLOWED_HOSTS": "127.0.0.1",
        **values,
    }
    file = folder / "orchard.env"
    lines = [f"{name}={value}" for name, value in values.items()]
    file.write_text("# Settings\n\n" + "\n".join(lines) + "\n")
    return file

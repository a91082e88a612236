"""Read settings from the environment and refuse nonsense loudly."""

from __future__ import annotations

import os
from pathlib import Path


class BadSetting(Exception):
    """A setting in the environment that cannot be meant."""


def env_text(name: str, default: str = "") -> str:
    """Return the text of a variable, or the default when it is unset."""
    return os.environ.get(name, default)


def env_bool(name: str, *, default: bool) -> bool:
    """Return True or False; refuse every other spelling."""
    value = os.environ.get(name)
    if value is None:
        return default
    if value not in ("True", "False"):
        raise BadSetting(f"{name} is {value!r}; write True or False.")
    return value == "True"


def env_int(name: str, *, default: int) -> int:
    """Return a whole number; refuse anything else."""
    value = os.environ.get(name)
    if value is None:
        return default
    try:
        return int(value)
    except ValueError:
        raise BadSetting(f"{name} is {value!r}; write a whole number.") from None


def env_list(name: str, *, default: list[str]) -> list[str]:
    """Return the comma-separated parts of a variable, without blanks."""
    value = os.environ.get(name)
    if value is None:
        return default
    return [part.strip() for part in value.split(",") if part.strip()]


def env_secret(name: str, *, default: str | None = None) -> str:
    """Return a secret from NAME, or from the file that NAME_FILE points at."""
    path = os.environ.get(f"{name}_FILE")
    if path is not None:
        try:
            return Path(path).read_text(encoding="utf-8").strip()
        except OSError as error:
            raise BadSetting(f"{name}_FILE points at {path}: {error}.") from error
    value = os.environ.get(name, default)
    if value is None:
        raise BadSetting(f"{name} is not set; set it or {name}_FILE.")
    return value

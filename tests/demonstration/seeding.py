"""The command that makes the demonstration, run as a person runs it."""

from __future__ import annotations

from io import StringIO

from django.core.management import call_command


def run(*arguments: str) -> tuple[str, str]:
    """Return what the command wrote, and what it said on the way."""
    out, error = StringIO(), StringIO()
    call_command("seed_orchard", *arguments, stdout=out, stderr=error)
    return out.getvalue(), error.getvalue()

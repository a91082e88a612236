#!/usr/bin/env python
"""Run a management command of the project."""

from __future__ import annotations

import gc
import os
import sys


def main() -> None:
    # As in orchard/wsgi.py: many objects and hardly a cycle among them.
    gc.set_threshold(50_000, 20, 20)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "orchard.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()

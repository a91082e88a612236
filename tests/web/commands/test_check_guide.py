"""The command that checks a guide before anybody relies on it."""

from __future__ import annotations

import os
import subprocess
import sys
from io import StringIO

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from orchard.science import guide
from tests.science.small_guide import break_six_times, write_small_guide


def check(*arguments: str) -> str:
    output = StringIO()
    call_command("check_guide", *arguments, stdout=output)
    return output.getvalue()


def test_the_guide_in_use_has_no_fault_and_its_rows_are_counted():
    loaded = guide.load()
    kinds = len(loaded.cultivars) + len(loaded.rootstocks)
    assert check() == (
        f"No fault in edition {loaded.edition}: {len(loaded.signs)} signs, "
        f"{len(loaded.jobs)} jobs, {kinds} kinds, {len(loaded.figures)} figures.\n"
    )


def test_a_folder_of_ones_own_is_checked(tmp_path):
    write_small_guide(tmp_path)
    assert "1 signs, 1 jobs, 2 kinds, 2 figures" in check(str(tmp_path))
    with pytest.raises(CommandError, match="isn't a folder"):
        check(str(tmp_path / "nowhere"))


def test_all_faults_are_printed_and_the_exit_code_is_1(tmp_path):
    write_small_guide(tmp_path)
    expected = break_six_times(tmp_path)
    run = subprocess.run(
        [sys.executable, "manage.py", "check_guide", str(tmp_path)],
        cwd=settings.BASE_DIR,
        env=os.environ | {"DJANGO_SETTINGS_MODULE": "tests.settings"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 1
    lines = run.stdout.splitlines()
    assert len(lines) == len(expected)
    for line, (file, number, row, field) in zip(lines, expected, strict=True):
        assert line.startswith(f"{file}, line {number}, {row}, {field}: ")
    assert "6 faults in the guide." in run.stderr

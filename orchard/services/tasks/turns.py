"""What the turns of work are called that no calendar names: by what asked for them.

`Task.occurrence` holds the name. Once a finding has asked for the same work again, its
later turns are counted.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Q

from orchard.records.models import Finding, Inspection, Task, TaskRequest

# Stands between a finding's name and the number of its turn.
_COUNT = "/"


def turn_of_look(inspection: Inspection) -> str:
    """Name the turn that a look asks for, whatever it found."""
    return f"inspection:{inspection.pk}"


def turn_of_request(request: TaskRequest) -> str:
    """Name the turn that a person asks for by hand."""
    return f"asked:{request.pk}"


def next_turn(finding: Finding, kind: Task.Kind, work: Iterable[Task]) -> str:
    """Name the turn that a finding asks for, after those among the given work."""
    name = _name(finding)
    count = sum(
        task.kind == kind and task.occurrence.partition(_COUNT)[0] == name
        for task in work
    )
    return f"{name}{_COUNT}{count + 1}" if count else name


def asked_by(finding: Finding) -> Q:
    """Return the condition that a task is a turn that this very finding asked for."""
    name = _name(finding)
    return Q(occurrence=name) | Q(occurrence__startswith=f"{name}{_COUNT}")


def _name(finding: Finding) -> str:
    return f"finding:{finding.pk}"

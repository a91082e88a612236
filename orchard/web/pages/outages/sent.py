"""What somebody sent with a form, kept on the page that says it was not saved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.http import HttpRequest

TOKEN = "csrfmiddlewaretoken"  # noqa: S105
# Fields of passwords; they are shown nowhere.
SECRET = frozenset({"password", "old", "again"})


def is_secret(name: str) -> bool:
    """Say whether a field holds a password, on our pages or in the back room."""
    return name in SECRET or "password" in name


@dataclass(frozen=True, slots=True)
class SentForm:
    """The fields of a form, to be sent again, and the names of its files."""

    fields: tuple[tuple[str, str], ...]
    files: Mapping[str, Sequence[str]]

    @classmethod
    def read(cls, request: HttpRequest) -> SentForm | None:
        """Read what was sent; None when nothing of it can be sent again as it was.

        A form with a password is filled in anew. So is one whose sending broke off.
        """
        if request.method != "POST" or not (request.POST or request.FILES):
            return None
        if any(is_secret(name) for name in request.POST):
            return None
        return cls(
            tuple(
                (name, str(value))
                for name, values in request.POST.lists()
                for value in values
                if name != TOKEN
            ),
            {
                field: [file.name or field for file in files]
                for field, files in request.FILES.lists()
            },
        )

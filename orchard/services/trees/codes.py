"""Codes of trees: fit for an address, and never used twice."""

from __future__ import annotations

import re

from django.utils.translation import gettext as _

from orchard.records.models import Change, Orchard, Tree
from orchard.science.codes import plain_code
from orchard.services.audit import Verb
from orchard.services.errors import Refused

CODE = re.compile(r"[^\W_](?:[\w.\-]*[^\W_])?")
# These would hide a page of their own under trees/.
RESERVED = frozenset({"new"})


def code_in(text: str) -> str:
    """Return a tree's code in its plain spelling; refuse what cannot be an address."""
    code = plain_code(text)
    if not CODE.fullmatch(code) or len(code) > 24 or code.lower() in RESERVED:
        raise Refused(
            _(
                "“%(code)s” isn't a valid code. Use up to 24 letters and digits, with "
                "a dash or dot between them."
            )
            % {"code": code},
            code="code_taken",
            field="code",
        )
    return code


def fresh_code(orchard: Orchard, text: str) -> str:
    """Return a code no tree of the orchard has or ever had; refuse any other."""
    code = code_in(text)
    holder = (
        Tree.objects.filter(orchard=orchard, code__iexact=code)
        .only("code", "state", "kind")
        .first()
    )
    if holder is not None:
        raise Refused(
            _(
                "%(code)s is the code of a tree already (%(kind)s, %(state)s). A code "
                "is never used twice; choose another."
            )
            % {
                "code": holder.code,
                "kind": holder.kind,
                "state": holder.get_state_display(),
            },
            code="code_taken",
            field="code",
        )
    if code.lower() in old_codes(orchard):
        raise Refused(
            _(
                "%(code)s was the code of another tree before it was corrected. A "
                "code is never used twice; choose another."
            )
            % {"code": code},
            code="code_taken",
            field="code",
        )
    return code


def old_codes(orchard: Orchard) -> set[str]:
    """Return the codes, in lower case, that trees had before a correction."""
    rows = Change.objects.filter(
        orchard=orchard, subject_type="tree", verb=Verb.CORRECT, before__has_key="code"
    ).values_list("before__code", flat=True)
    return {str(code).lower() for code in rows}

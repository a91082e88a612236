"""How a round is made, arranged and handed out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Membership, Round, User
from orchard.services import rounds
from orchard.services.errors import Refused
from orchard.services.rounds import TreeChoice
from orchard.services.trees import BlockLine
from orchard.web.fields import codes_in, day_field, offer

NOBODY = "nobody"
PLACE = "place-"


def walkers_in(walkers: Iterable[Membership]) -> list[tuple[object, object]]:
    """Return whom a round can be given to, nobody first."""
    people = [(walker.user_id, walker.user.name) for walker in walkers]
    return [(NOBODY, _("whoever takes it")), *people]


class RoundForm(forms.Form):
    name = forms.CharField(label=_("Name"), max_length=80)
    walk_on = day_field(_("Day"))
    to = forms.ChoiceField(label=_("Who walks it"))
    blocks = forms.MultipleChoiceField(
        label=_("Blocks"),
        help_text=_("All trees of a block, unless a condition below narrows them."),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    due = forms.BooleanField(
        label=_("Only trees with tasks due by that day"), required=False
    )
    unseen_days = forms.IntegerField(
        label=_("Only trees not seen for so many days"),
        required=False,
        min_value=1,
        max_value=3650,
    )
    codes = forms.CharField(
        label=_("Trees by hand"),
        help_text=_(
            "Codes, separated by spaces or commas. They are added to the rest."
        ),
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    @classmethod
    def for_orchard(
        cls,
        blocks: Iterable[BlockLine],
        walkers: Iterable[Membership],
        *,
        today: date,
        data: QueryDict | None = None,
        block: str = "",
    ) -> RoundForm:
        """Return the form with the blocks and people of an orchard."""
        usual = {
            "name": rounds.usual_name(today),
            "walk_on": today,
            "to": NOBODY,
            "blocks": [block] if block else [],
        }
        form = cls(data, initial=usual)
        named = [(block.code, f"{block.code} {block.name}") for block in blocks]
        offer(form, "blocks", named)
        offer(form, "to", walkers_in(walkers))
        form.fields["walk_on"].widget.attrs["min"] = today.isoformat()
        return form

    def choice(self) -> TreeChoice:
        """Return which trees are meant, as far as it can be read."""
        cleaned = self.cleaned_data
        return TreeChoice(
            blocks=tuple(cleaned.get("blocks", ())),
            due=cleaned.get("due", False),
            unseen_days=cleaned.get("unseen_days"),
            codes=codes_in(cleaned.get("codes", "")),
        )


class RoundHandOverForm(forms.Form):
    to = forms.ChoiceField(label=_("Who walks it"))

    @classmethod
    def for_orchard(
        cls, row: Round, walkers: Iterable[Membership], data: QueryDict | None = None
    ) -> RoundHandOverForm:
        """Return the form with everybody who may walk, and nobody."""
        form = cls(data, initial={"to": row.taken_by_id or NOBODY})
        offer(form, "to", walkers_in(walkers))
        return form


def chosen(text: str, walkers: Iterable[Membership]) -> User | None:
    """Return the person chosen, None for whoever takes it."""
    return next(
        (walker.user for walker in walkers if str(walker.user_id) == text), None
    )


def order_of(post: QueryDict) -> dict[int, int | None]:
    """Read the numbers of the stops; an empty one leaves the tree out.

    Raises:
        Refused (bad_order): a number cannot be read.
    """
    order: dict[int, int | None] = {}
    for name, text in post.items():
        number = name.removeprefix(PLACE)
        if number == name or not number.isdecimal():
            continue
        text = str(text).strip()
        if text and not (text.isascii() and text.isdecimal() and len(text) < 6):
            raise Refused(
                _now("“%(text)s” is no place in a walk. Write a number, or nothing.")
                % {"text": text[:20]},
                code="bad_order",
            )
        order[int(number)] = int(text) if text else None
    return order

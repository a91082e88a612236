"""What may be said about a photo."""

from __future__ import annotations

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Photo
from orchard.science import guide
from orchard.web.fields import offer


class DescriptionForm(forms.Form):
    caption = forms.CharField(
        label=_("Caption"),
        help_text=_("What it shows, where on the tree, in one sentence."),
        max_length=300,
        required=False,
    )
    people = forms.ChoiceField(
        label=_("People in view"),
        help_text=_("A face, a back, a name badge: all of them count."),
        choices=Photo.People.choices,
        widget=forms.RadioSelect,
    )
    confirmed_sign = forms.ChoiceField(
        label=_("Our picture of a sign"),
        help_text=_(
            "Only when you are certain: it is shown beside the sign's look-alikes to "
            "everybody who logs an inspection here."
        ),
        required=False,
    )

    @classmethod
    def about(
        cls, photo: Photo, *, keeps: bool, data: QueryDict | None = None
    ) -> DescriptionForm:
        """Return the form of a photo, with the sign only for who may say it."""
        initial = {
            "caption": photo.caption,
            "people": photo.people,
            "confirmed_sign": photo.confirmed_sign,
        }
        form = cls(data, initial=initial)
        if not keeps or photo.private:
            del form.fields["confirmed_sign"]
            return form
        signs = sorted(guide.load().signs.values(), key=lambda sign: sign.name)
        named = [(sign.key, sign.name) for sign in signs]
        offer(form, "confirmed_sign", [("", _("not a picture of a sign")), *named])
        return form

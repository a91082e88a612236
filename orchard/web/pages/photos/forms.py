"""What may be said about a photo."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Photo, PhotoConsent
from orchard.science import guide
from orchard.web.fields import ReasonForm, day_field, offer


class DescriptionForm(forms.Form):
    caption = forms.CharField(
        label=_("Caption"),
        help_text=_("What it shows, where on the tree, in one sentence."),
        max_length=300,
        required=False,
    )
    alt_text = forms.CharField(
        label=_("Description"),
        help_text=_(
            "What is to be seen, for people who can't see it. It is read aloud to them."
        ),
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    credit = forms.CharField(
        label=_("Credit"),
        help_text=_("Who is named with it when it is shown."),
        max_length=120,
        required=False,
    )
    view = forms.ChoiceField(
        label=_("View"),
        choices=[("", _("not said")), *Photo.View.choices],
        required=False,
        widget=forms.RadioSelect,
    )
    people = forms.ChoiceField(
        label=_("People in view"),
        help_text=_("A face, a back, a name badge: all of them count."),
        choices=Photo.People.choices,
        widget=forms.RadioSelect,
    )
    audience = forms.ChoiceField(
        label=_("Who may see it"),
        help_text=_("With people in view, only as far as their consent goes."),
        choices=Photo.Audience.choices,
        required=False,
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
        """Return the form of a photo; its keepers say who sees it, and the sign."""
        form = cls(
            data, initial={name: getattr(photo, name) for name in cls.base_fields}
        )
        if not keeps:
            del form.fields["audience"]
        if not keeps or photo.private:
            del form.fields["confirmed_sign"]
            return form
        signs = sorted(guide.load().signs.values(), key=lambda sign: sign.name)
        named = [(sign.key, sign.name) for sign in signs]
        offer(form, "confirmed_sign", [("", _("not a picture of a sign")), *named])
        return form

    def clean_audience(self) -> str:
        # Left out, it stays as it is.
        return str(self.cleaned_data["audience"] or self.initial["audience"])


class ConsentForm(forms.Form):
    person = forms.CharField(
        label=_("Person in view"),
        help_text=_("For a child, name who agreed for it too."),
        max_length=120,
    )
    use = forms.ChoiceField(
        label=_("Agrees to"),
        choices=PhotoConsent.Use.choices,
        widget=forms.RadioSelect,
    )
    given_on = day_field(_("Given on"))


class ConsentWithdrawalForm(ReasonForm):
    withdrawn_on = day_field(_("Withdrawn on"))
    everywhere = forms.BooleanField(
        label=_("For every photo this person agreed to"), required=False
    )

    def __init__(self, *args: Any, others: int, **options: Any) -> None:
        super().__init__(*args, **options)
        if not others:
            del self.fields["everywhere"]

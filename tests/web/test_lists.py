"""How the list of a form is written: all that Django writes, in one go."""

from __future__ import annotations

import re

from django import forms
from django.utils.safestring import SafeString

CHOICES = [
    ("", "any"),
    (1, "O'Leary's <b>navel</b> & others"),
    ("Fruit", [("a&b", "in a group"), ("c", SafeString("an <i>apple</i>"))]),
]


class Form(forms.Form):
    kind = forms.ChoiceField(
        choices=CHOICES,
        required=False,
        widget=forms.Select(attrs={"aria-label": 'the "kind"', "autofocus": True}),
    )


def test_a_list_is_written_with_its_groups_and_every_word_is_escaped():
    html = str(Form({"kind": "a&b"})["kind"])
    assert re.sub(r"\s*\n\s*", "", html) == (
        '<select name="kind" aria-label="the &quot;kind&quot;" id="id_kind" autofocus>'
        '<option value="">any</option>'
        '<option value="1">O&#x27;Leary&#x27;s &lt;b&gt;navel&lt;/b&gt; &amp; others'
        "</option>"
        '<optgroup label="Fruit">'
        '<option value="a&amp;b" selected>in a group</option>'
        '<option value="c">an <i>apple</i></option>'
        "</optgroup></select>"
    )


def test_a_number_is_the_choice_that_was_sent_as_text():
    html = str(Form({"kind": "1"})["kind"])
    assert html.count(" selected") == 1
    assert '<option value="1" selected>' in html


def test_a_field_says_what_is_wrong_and_only_then():
    def written(value):
        return Form({"kind": value})["kind"].as_field_group()

    assert "errorlist" not in written("c")
    assert "errorlist" in written("no such")
    assert "(optional)" in written("c")

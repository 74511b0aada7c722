"""Inputs written directly are those of Django's own templates."""

import pytest
from django import forms
from django.test.html import parse_html

from inventory.pages.input_renderer import InputRenderer

NASTY = '"<b>&'


class Odd(forms.Form):
    text = forms.CharField(
        label=NASTY, max_length=7, help_text="how", widget=forms.TextInput({"list": NASTY})
    )
    number = forms.DecimalField(min_value=0, max_value=9, required=False, decimal_places=2)
    ticked = forms.BooleanField(required=False)
    choice = forms.ChoiceField(choices=[("", "any"), ("a", NASTY), ("b", "B")], required=False)
    hidden = forms.CharField(widget=forms.HiddenInput)
    day = forms.DateField(required=False, disabled=True)
    note = forms.CharField(widget=forms.Textarea)


@pytest.mark.parametrize("name", list(Odd.base_fields))
@pytest.mark.parametrize(
    "data",
    [None, {}, {"text": NASTY, "number": "x", "ticked": "on", "choice": "b", "note": NASTY}],
    ids=["empty", "refused", "filled"],
)
def test_input_is_the_one_of_the_template(data, name):
    ours, theirs = Odd(data, renderer=InputRenderer()), Odd(data)
    assert parse_html(str(ours[name])) == parse_html(str(theirs[name]))

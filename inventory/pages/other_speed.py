"""What another cutting speed would do to the life of a cutter: a marked assumption."""

from typing import Any

from django import forms
from django.http import QueryDict

from inventory.pages.life import life_text
from inventory.queries.cutter_lives import KindOfCutter
from inventory.queries.other_speed import MATERIALS, life_at_speed, usual_exponents

FASTEST = 10_000
FURTHEST = 3
"""Times the speed now, or a part of it, beyond which nothing is told: common practice, no source."""


class SpeedForm(forms.Form):
    speed = forms.FloatField(label="Speed now", min_value=0.1, max_value=FASTEST)
    new_speed = forms.FloatField(
        label="Speed tried", min_value=0.1, max_value=FASTEST, help_text="in the same unit"
    )
    material = forms.ChoiceField(
        label="Cutter of", choices=[(name, name) for name in MATERIALS], initial="carbide"
    )
    exponent = forms.FloatField(
        label="Taylor's exponent n",
        min_value=0.05,
        max_value=2,
        help_text="In turning: "
        + ", ".join("{} {} to {}".format(name, *usual_exponents(name)) for name in MATERIALS),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        speed, tried = cleaned.get("speed"), cleaned.get("new_speed")
        if speed and tried and not 1 / FURTHEST <= tried / speed <= FURTHEST:
            raise forms.ValidationError(
                f"Lives are known at {speed:g}; {tried:g} is too far from it to tell. Try one "
                "between a third and three times."
            )
        return cleaned


def at_another_speed(kind: KindOfCutter, asked: QueryDict) -> dict[str, Any]:
    """The form, and what it says: ?speed=90&new_speed=110&material=carbide&exponent=0.25."""
    form = SpeedForm(asked if "new_speed" in asked else None, label_suffix="")
    said = ""
    if form.is_bound and form.is_valid():
        tried = form.cleaned_data
        mean = kind.model.weibull.mean
        other = life_at_speed(
            mean, tried["speed"], tried["new_speed"], tried["exponent"], tried["material"]
        )
        unit = kind.item.life_unit
        said = (
            f"About {life_text(other.life, unit)} on average in place of {life_text(mean, unit)}. "
            f"{other.doubt}"
        ).strip()
    return {"speed_form": form, "other_speed": said}

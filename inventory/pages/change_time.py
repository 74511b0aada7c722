"""When to change a cutter: what it costs in time and after a failure, and the drawing that tells."""

from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.errors import WrongUnit
from inventory.models import Shop
from inventory.pages.display import money
from inventory.pages.life import life_text
from inventory.pages.life_drawings import Plane, drawing, round_up
from inventory.queries.change_costs import ChangeCosts, ChangeTime, change_costs, change_time
from inventory.queries.cutter_lives import KindOfCutter
from inventory.units import in_millionths, parse_number

LIFE = 1000
FAILURE_COSTS = Decimal(3)
"""A failure against a planned change while no price is known: common practice, no source."""
DEAREST = 10_000_000
"""Of a change, in the shop's money, that is tried: common practice, no source."""
HIGHEST = 2.5
"""Times the cost of running to failure at which the drawing ends."""


class CostField(forms.DecimalField):
    """An amount of money, with a point or a comma."""

    widget = forms.TextInput({"inputmode": "decimal"})

    def to_python(self, value: Any) -> Decimal | None:
        if value in self.empty_values:
            return None
        try:
            return in_millionths(parse_number(str(value)))
        except WrongUnit as error:
            raise forms.ValidationError(str(error)) from error


class CostForm(forms.Form):
    planned = CostField(label="Change made in time", min_value=Decimal("0.01"), max_value=DEAREST)
    failure = CostField(
        label="Change after a failure",
        min_value=Decimal("0.01"),
        max_value=DEAREST,
        help_text="cutter, minutes lost, spoilt knife",
    )


def time_to_change(kind: KindOfCutter, asked: QueryDict, shop: Shop) -> dict[str, Any]:
    """Everything the page shows of it; ?planned=...&failure=... tries other costs."""
    known = change_costs(kind.item, timezone.localdate(), shop)
    costs = {
        "planned": round(known.planned, 2) if known else Decimal(1),
        "failure": round(known.failure, 2) if known else FAILURE_COSTS,
    }
    form = CostForm(asked if "planned" in asked else None, initial=costs, label_suffix="")
    if form.is_bound and form.is_valid():
        costs = form.cleaned_data
    when = change_time(kind.model, float(costs["planned"]), float(costs["failure"]))
    unit = kind.item.life_unit
    return {
        "cost_form": form,
        "costs_known": costs_words(known, shop),
        "policy": when.policy,
        "saved": _saved_words(when, unit, shop),
        "cost_chart": cost_chart(when, unit, shop.currency),
    }


def costs_words(known: ChangeCosts | None, shop: Shop) -> str:
    """Where the costs come from that stand in the form at first."""
    if known is None:
        return (
            "No price of it is known, so the costs stand as a ratio. A failure counts three times a "
            "change in time: common practice, no source."
        )
    parts = []
    if known.price is not None:
        bench = money(known.bench, shop.currency)
        parts.append(
            f"A change in time: {money(known.price, shop.currency)} for one and {bench} for ten "
            "minutes at the bench."
        )
    if known.spoilt is not None:
        spoilt = money(known.spoilt, shop.currency)
        parts.append(f"After a failure {spoilt} more, the material of a spoilt knife.")
    return " ".join(parts) or "As stated for the item."


def cost_chart(when: ChangeTime, unit: str, currency: str) -> SafeString:
    """Money over so much life, by the age at which each is changed; the broken line: on failure."""
    on_failure = LIFE * when.policy.cost_rate_on_failure
    highest = HIGHEST * max(on_failure, LIFE * when.curve[-1][1])
    points = [(age, LIFE * rate) for age, rate in when.curve if LIFE * rate <= highest]
    plane = Plane(round_up(points[-1][0]), round_up(max(rate for _, rate in points)))
    age = when.policy.age
    best = (
        format_html(
            '<circle class="dot" cx="{}" cy="{}" r="5"/>',
            plane.x(age),
            plane.y(LIFE * when.policy.cost_rate),
        )
        if age is not None
        else ""
    )
    marks = format_html(
        '<line class="limit" x1="{}" x2="{}" y1="{}" y2="{}"/>'
        '<polyline class="line" points="{}"/>{}',
        *(plane.x(0), plane.x(plane.right), plane.y(on_failure), plane.y(on_failure)),
        plane.places(points),
        best,
    )
    title = f"{currency} over {LIFE} {unit}, by the {unit} after which each is changed"
    described = (
        f"Broken line: {on_failure:.3g} when each runs until it fails. "
        f"The line is lowest at {min(points, key=lambda point: point[1])[0]:.3g}."
    )
    return drawing(plane, marks, title, described, unit)


def _saved_words(when: ChangeTime, unit: str, shop: Shop) -> str:
    policy = when.policy
    run_out = money(Decimal(LIFE * policy.cost_rate_on_failure), shop.currency)
    if policy.age is None:
        return f"Run until they fail, {life_text(LIFE, unit)} of it cost about {run_out}."
    saved = money(Decimal(policy.saved_over(LIFE)), shop.currency)
    return (
        f"That saves about {saved} in {life_text(LIFE, unit)}, of the {run_out} they cost when each "
        "runs until it fails."
    )

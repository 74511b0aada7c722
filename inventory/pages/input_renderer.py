"""Inputs of long forms, written without a template each: a bill has six hundred of them."""

from typing import Any

from django.forms.renderers import DjangoTemplates
from django.forms.utils import flatatt
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

FOLDER = "django/forms/widgets"
INPUTS = {f"{FOLDER}/{kind}.html" for kind in ("text", "number", "checkbox", "hidden")}


class InputRenderer(DjangoTemplates):
    """Inputs and selects directly; anything else as Django's own templates have it."""

    def render(self, template_name: str, context: dict[str, Any], request: Any = None) -> str:
        if template_name in INPUTS:
            return input_html(context["widget"])
        if template_name == f"{FOLDER}/select.html":
            return select_html(context["widget"])
        return super().render(template_name, context, request)


def input_html(widget: dict[str, Any]) -> SafeString:
    """One <input> of a widget's context: its type, name, value and attributes."""
    value = {} if widget["value"] is None else {"value": str(widget["value"])}
    attrs = flatatt({**value, **widget["attrs"]})
    return format_html('<input type="{}" name="{}"{}>', widget["type"], widget["name"], attrs)


def select_html(widget: dict[str, Any]) -> SafeString:
    """One <select> of a widget's context; its options stand in no groups."""
    options = format_html_join(
        "",
        '<option value="{}"{}>{}</option>',
        (
            (option["value"], flatatt(option["attrs"]), option["label"])
            for _, group, _ in widget["optgroups"]
            for option in group
        ),
    )
    return format_html(
        '<select name="{}"{}>{}</select>', widget["name"], flatatt(widget["attrs"]), options
    )

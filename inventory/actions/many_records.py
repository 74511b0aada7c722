"""Many records at once, as a list brings them: judged as one by one, written in a few questions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from inventory.errors import Refused
from inventory.queries.record_check import RecordCheck, record_check


@dataclass(frozen=True)
class RecordEntry:
    """Values of a new record, or of one that is there (as it is in the database) and changes."""

    values: Mapping[str, Any]
    record: models.Model | None = None


def write_by_code(
    model: type[models.Model], entries: Sequence[RecordEntry], needed: Sequence[str]
) -> list[Any]:
    """Make and change records that are known by their code; part of other actions.

    needed: fields that no new one is without. Refuses what the model's rules refuse, naming the
    record, and a code that another one has, whatever its case.
    """
    check = record_check(model)
    written, new, known, fields = [], [], [], set()
    for entry in entries:
        record = entry.record or model()
        for name, value in entry.values.items():
            setattr(record, name, value)
        refuse_faults(
            record, check, {*entry.values, *needed}, record.code or _article(model).capitalize()
        )
        written.append(record)
        (known if record.pk else new).append(record)
        fields |= entry.values.keys() if record.pk else set()
    coded = [entry.record for entry in entries if entry.record and "code" in entry.values]
    _refuse_taken_codes(model, [*new, *coded])
    model.objects.bulk_create(new, batch_size=500)
    if fields:
        model.objects.bulk_update(known, sorted(fields), batch_size=200)
    return written


def refuse_faults(record: models.Model, check: RecordCheck, changed: set[str], what: str) -> None:
    """Raise Refused for what the model's rules say against these fields of a record."""
    parts = []
    for field, fault in check.faults(record, changed):
        label = f"{record._meta.get_field(field).verbose_name}: " if field else ""
        parts.append(f"{label}{fault}")
    if parts:
        raise Refused(f"{what} not saved. {' '.join(parts)}")


def _article(model: type[models.Model]) -> str:
    kind = model._meta.verbose_name
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def _refuse_taken_codes(model: type[models.Model], records: Sequence[Any]) -> None:
    codes = [record.code for record in records]
    alike = Q(code__in=codes) | Q(lower__in=[code.lower() for code in codes])
    stored = model.objects.annotate(lower=Lower("code")).filter(alike)
    taken = {code.lower(): (code, pk) for code, pk in stored.values_list("code", "pk")}
    for record in records:
        other, pk = taken.get(record.code.lower(), ("", None))
        if other and (pk is None or pk != record.pk):
            raise Refused(
                f"There is {_article(model)} {other} already. Leave it out, or change that one."
            )
        taken[record.code.lower()] = record.code, record.pk

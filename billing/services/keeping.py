"""Saving a row's named fields with its trace: what several services do alike."""

from collections.abc import Mapping
from typing import Any

from django.db.models import Model

from practice.models import User
from practice.services.changes import note_change


def told(value: Any) -> Any:
    """A field's value as the audit trail keeps it: a JSON value."""
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, Model):
        return value.pk
    return str(value)


def put(*, row: Model, fields: Mapping[str, Any], by: User | None, action: str) -> bool:
    """Sets the fields that differ and saves them alone; whether any did. The caller
    holds the row, or has just made it."""
    changed = {
        name: value for name, value in fields.items() if getattr(row, name) != value
    }
    is_new = row._state.adding
    if not changed and not is_new:
        return False
    before = {} if is_new else {name: told(getattr(row, name)) for name in changed}
    for name, value in changed.items():
        setattr(row, name, value)
    if is_new:
        row.save()
    else:
        row.save(update_fields=[*changed, "changed_at"])
    after = {name: told(value) for name, value in changed.items()}
    note_change(by=by, obj=row, action=action, before=before, after=after)
    return True

"""Making a row once, however often the same request arrives."""

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from typing import Any, TypeVar
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Model

from practice.errors import Refused
from practice.models import MadeOnce

M = TypeVar("M", bound=Model)


def _plain(value: Any) -> Any:
    """A value as JSON has it: rows by their key, amounts by their worth."""
    if isinstance(value, Model):
        return [value._meta.label_lower, str(value.pk)]
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Mapping):
        pairs = [[_plain(key), _plain(each)] for key, each in value.items()]
        return sorted(pairs, key=json.dumps)
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return value if value is None else str(value)


def _digest(said: object) -> str:
    return hashlib.sha256(json.dumps(_plain(said)).encode()).hexdigest()


@transaction.atomic
def made_once(
    *, key: UUID | None, model: type[M], said: object, make: Callable[[], M]
) -> M:
    """The row made under ``key``: made now, or found if it was made before.

    Args:
        key: chosen by whoever asks (a hidden field of the form, the request's
            Idempotency-Key); None makes a row each time.
        said: all that was asked for; the same key with something else is refused, so
            that what was typed after going back is not lost without a word.
        make: makes the row, in this transaction; may raise ``Refused``, and then the
            key is free again.

    Raises:
        Refused: the key was used for something else, what it made is gone, or it was
            asked for differently then.
    """
    if key is None:
        return make()
    label = model._meta.label_lower
    try:
        with transaction.atomic():
            # Two at once: the second waits here for the first, then fails.
            note = MadeOnce.objects.create(
                key=key, label=label, object_id="", said_sha256=_digest(said)
            )
    except IntegrityError:
        before = MadeOnce.objects.get(key=key)
        found = (
            model._default_manager.filter(pk=before.object_id).first()
            if before.label == label
            else None
        )
        if found is None:
            raise Refused(
                "This form was sent before, and what it made is gone. "
                "Open it anew to make another."
            ) from None
        # Rows from before the digest was kept have none.
        if before.said_sha256 not in {"", _digest(said)}:
            raise Refused(
                f"This form was saved before, with other values, as “{found}”. "
                "Open that to change it, or open a new form to make another."
            ) from None
        return found
    row = make()
    note.object_id = str(row.pk)
    note.save(update_fields=["object_id", "changed_at"])
    return row

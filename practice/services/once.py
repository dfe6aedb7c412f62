"""Making a row once, however often the same request arrives."""

from collections.abc import Callable
from typing import TypeVar
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Model

from practice.errors import Refused
from practice.models import MadeOnce

M = TypeVar("M", bound=Model)


@transaction.atomic
def made_once(*, key: UUID | None, model: type[M], make: Callable[[], M]) -> M:
    """The row made under ``key``: made now, or found if it was made before.

    Args:
        key: chosen by whoever asks (a hidden field of the form, the request's
            Idempotency-Key); None makes a row each time.
        make: makes the row, in this transaction; may raise ``Refused``, and then the
            key is free again.

    Raises:
        Refused: the key was used for something else, or what it made is gone.
    """
    if key is None:
        return make()
    label = model._meta.label_lower
    try:
        with transaction.atomic():
            # Two at once: the second waits here for the first, then fails.
            note = MadeOnce.objects.create(key=key, label=label, object_id="")
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
        return found
    row = make()
    note.object_id = str(row.pk)
    note.save(update_fields=["object_id", "changed_at"])
    return row

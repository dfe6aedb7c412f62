"""The audit trail."""

from typing import Any

from django.db.models import Model

from practice.models import Change, User


def note_change(
    *,
    by: User | None,
    obj: Model,
    action: str,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    reason: str = "",
) -> Change:
    """Adds a row to the audit trail, in the caller's transaction.

    Args:
        by: who did it; None for the program itself.
        before, after: the fields that changed, as JSON values.
    """
    return Change.objects.create(
        by=by,
        label=obj._meta.label_lower,
        object_id=str(obj.pk),
        action=action,
        before=before or {},
        after=after or {},
        reason=reason,
    )

"""How often a thing may be tried."""

import time

from django.db import transaction
from django.db.models import F

from practice.models import RateSlot

SLOT_SECONDS = 900
_KEPT_SLOTS = 4


@transaction.atomic
def allow(*, key: str, limit: int, now: float | None = None) -> bool:
    """Counts a try and says whether it is still within ``limit`` tries a slot of
    15 minutes. Right under concurrency: the count goes up by a conditional update.

    Args:
        key: what is tried and by whom, at most 100 characters.
        now: Unix seconds, for tests.
    """
    slot = int((time.time() if now is None else now) // SLOT_SECONDS)
    row, is_new = RateSlot.objects.get_or_create(key=key, slot=slot)
    if is_new:
        RateSlot.objects.filter(slot__lt=slot - _KEPT_SLOTS).delete()
    within = RateSlot.objects.filter(pk=row.pk, n__lt=limit)
    return within.update(n=F("n") + 1) == 1


@transaction.atomic
def forget(*, key: str) -> None:
    """Forgets the tries under ``key``: the right password was given."""
    RateSlot.objects.filter(key=key).delete()

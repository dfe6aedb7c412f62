"""The secret address of a farrier's calendar: made, renewed, shut."""

import secrets

from django.db import transaction

from practice.models import User
from practice.services.changes import note_change
from scheduling.models import CalendarFeed


@transaction.atomic
def renew_feed(*, farrier: User, by: User) -> CalendarFeed:
    """A fresh address; the old one, if any, answers no longer."""
    feed, made = CalendarFeed.objects.update_or_create(
        farrier=farrier, defaults={"token": secrets.token_urlsafe(32)}
    )
    note_change(
        by=by, obj=farrier, action="calendar opened" if made else "calendar renewed"
    )
    return feed


@transaction.atomic
def revoke_feed(*, farrier: User, by: User) -> None:
    """Shuts the address; harmless when there is none."""
    gone, _ = CalendarFeed.objects.filter(farrier=farrier).delete()
    if gone:
        note_change(by=by, obj=farrier, action="calendar shut")

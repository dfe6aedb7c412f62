"""Tokens of the API: made and shown once, known again by their digest, taken back."""

import hashlib
import secrets
from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from practice.errors import Refused
from practice.models import ApiToken, User
from practice.services.changes import note_change

MOST_TOKENS = 20
NOTED_EVERY = timedelta(minutes=10)
"""How exactly the last use is told: a write for each request would be too dear."""


@transaction.atomic
def make_token(*, user: User, name: str, by_hand: bool = False) -> str:
    """A new token of the user's, as text: it can't be shown again.

    Args:
        by_hand: a name that is taken is refused, so that a second tap makes no second
            one. (Programs on several machines may well share a name.)

    Raises:
        Refused: without a name, or the user has as many as one may have.
    """
    tidy = " ".join(name.split())[:80]
    if not tidy:
        raise Refused("Say what uses it.", field="name")
    held = User.objects.select_for_update().get(pk=user.pk)
    if ApiToken.objects.filter(user=held).count() >= MOST_TOKENS:
        raise Refused(
            f"You have {MOST_TOKENS} tokens: take one back on the page of your account."
        )
    if by_hand and ApiToken.objects.filter(user=held, name=tidy).exists():
        raise Refused(
            f"There is a token for {tidy} already: take it back, or use another name.",
            field="name",
        )
    text = secrets.token_urlsafe(32)
    row = ApiToken.objects.create(user=held, name=tidy, token_sha256=digest(text))
    note_change(by=held, obj=row, action="token made", after={"name": tidy})
    return text


@transaction.atomic
def take_back_token(*, token: ApiToken, by: User) -> None:
    """The token opens nothing from now on. Harmless to repeat."""
    gone, _ = ApiToken.objects.filter(pk=token.pk).delete()
    if gone:
        note_change(
            by=by, obj=token, action="token taken back", before={"name": token.name}
        )


def token_of(text: str) -> ApiToken | None:
    """The token of this text with its user, if it stands and its user may enter."""
    found = ApiToken.objects.filter(token_sha256=digest(text), user__is_active=True)
    token = found.select_related("user").first()
    if token is None:
        return None
    now = timezone.now()
    if token.last_used_at is None or token.last_used_at < now - NOTED_EVERY:
        ApiToken.objects.filter(pk=token.pk).update(last_used_at=now)
    return token


def digest(text: str) -> str:
    """The SHA-256 by which a token is known."""
    return hashlib.sha256(text.encode()).hexdigest()

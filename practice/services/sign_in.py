"""Signing in: by password with a limit of tries, and by a one-time link.

The page that asks for a link does the same work for a known and an unknown address:
it queues a job. The job, in the worker, finds the user and queues the mail, or finds
nobody and ends.
"""

import hashlib
import logging
import secrets
from datetime import timedelta

from django.conf import settings
from django.contrib.auth import authenticate
from django.db import transaction
from django.http import QueryDict
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from practice import outbox
from practice.errors import Refused
from practice.models import Message, Practice, SignInLink, User
from practice.services import rates

logger = logging.getLogger(__name__)

LINK_LIFE = timedelta(minutes=20)
INVITATION_LIFE = timedelta(days=7)
TRIES_FOR_ONE = 5
"""Wrong passwords for one address from one place in 15 minutes."""
TRIES_FROM_ONE_PLACE = 40
"""Tries of any kind from one place (an IP address) in 15 minutes."""
LINKS_FOR_ONE = 3
"""Links to one address in 15 minutes, wherever they are asked from."""
MAIL_KIND = "sign_in_link"

TOO_MANY = "Too many tries. Wait a quarter of an hour, then try again."
WRONG = (
    "That e-mail and password do not go together. Check both, "
    "or have a link e-mailed to you instead."
)


def user_by_password(*, email: str, password: str, place: str) -> User:
    """The user of this e-mail and password.

    Args:
        place: the IP address that the try comes from.

    Raises:
        Refused: they do not go together (the same sentence whether the address is
            known or not), or there were too many tries.
    """
    key = _key("password", email, place)
    if not rates.allow(key=_key("place", place), limit=TRIES_FROM_ONE_PLACE):
        raise Refused(TOO_MANY)
    if not rates.allow(key=key, limit=TRIES_FOR_ONE):
        raise Refused(TOO_MANY)
    user = authenticate(username=email.strip(), password=password)
    if not isinstance(user, User):
        raise Refused(WRONG, field="password")
    rates.forget(key=key)
    return user


@transaction.atomic
def ask_for_link(*, email: str, place: str, next_path: str = "") -> None:
    """Queues what will send a link to this address, if anyone has it.

    Args:
        next_path: where to go after signing in; already known to be of this house.

    Raises:
        Refused: too many were asked for.
    """
    folded = email.strip().lower()
    if not rates.allow(key=_key("place", place), limit=TRIES_FROM_ONE_PLACE):
        raise Refused(TOO_MANY)
    if not rates.allow(key=_key("link", folded), limit=LINKS_FOR_ONE):
        raise Refused(TOO_MANY)
    outbox.queue_job(
        kind=MAIL_KIND,
        payload={"email": folded, "next_path": next_path},
        key=f"ask-{secrets.token_hex(8)}",
    )


@transaction.atomic
def send_link_job(email: str, next_path: str = "") -> None:
    """The job behind ``ask_for_link``: mails a link if the address is a user's."""
    user = User.objects.filter(email__iexact=email, is_active=True).first()
    if user is not None:
        send_link(user=user, next_path=next_path)


@transaction.atomic
def send_link(
    *, user: User, next_path: str = "", life: timedelta = LINK_LIFE
) -> SignInLink:
    """Makes a one-time link and queues the mail with it. Only the token's SHA-256 is
    kept beside the mail itself, whose text is blanked once the link has ended."""
    _tidy_up()
    token = secrets.token_urlsafe(32)
    link = SignInLink.objects.create(
        user=user,
        token_sha256=_digest(token),
        expires_at=timezone.now() + life,
    )
    path = reverse("practice:sign_in_link", args=[token])
    if next_path:
        query = QueryDict(mutable=True)
        query["next"] = next_path
        path = f"{path}?{query.urlencode(safe='/')}"
    practice = Practice.objects.filter(pk=1).first()
    words = {
        "user": user,
        "address": f"{settings.SITE_URL}{path}",
        "practice": practice,
        "is_invitation": life > LINK_LIFE,
    }
    outbox.queue_mail(
        kind=MAIL_KIND,
        to=user.email,
        subject=render_to_string("mail/sign_in_link/subject.txt", words),
        body=render_to_string("mail/sign_in_link/text.txt", words),
        key=f"sign-in-link-{link.pk}",
        client=user.client,
    )
    return link


def link_is_open(*, token: str) -> bool:
    """Whether the link of this token could still sign someone in."""
    return SignInLink.objects.filter(
        token_sha256=_digest(token),
        used_at__isnull=True,
        expires_at__gt=timezone.now(),
        user__is_active=True,
    ).exists()


@transaction.atomic
def use_link(*, token: str) -> User:
    """Uses a link up. Of many at once one wins, by a conditional update.

    Raises:
        Refused: it was used, has ended, or never was.
    """
    now = timezone.now()
    # Own columns only: through a join, PostgreSQL would not look again at a row that
    # another had just used up, and both would win.
    won = SignInLink.objects.filter(
        token_sha256=_digest(token), used_at__isnull=True, expires_at__gt=now
    ).update(used_at=now, changed_at=now)
    link = (
        SignInLink.objects.select_related("user")
        .filter(token_sha256=_digest(token), user__is_active=True)
        .first()
    )
    if won != 1 or link is None:
        raise Refused(
            "This link was used already or has ended. Ask for a new one: "
            "it comes by e-mail within a minute."
        )
    return link.user


def _tidy_up() -> None:
    now = timezone.now()
    ended = SignInLink.objects.filter(expires_at__lt=now)
    keys = [f"sign-in-link-{pk}" for pk in ended.values_list("pk", flat=True)]
    Message.objects.filter(
        key__in=keys, state__in=[Message.State.SENT, Message.State.LET_GO]
    ).update(body="", changed_at=now)
    ended.delete()


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _key(kind: str, *parts: str) -> str:
    told = "\n".join(part.strip().lower() for part in parts)
    return f"{kind}:{hashlib.sha256(told.encode()).hexdigest()}"

"""Reads that more than one page needs."""

from django.db.models import Q, QuerySet

from practice.geo import Position, way
from practice.models import Area, Barn, Client, Message, Practice


def clients_with(
    clients: QuerySet[Client], *, words: str = "", aside: bool = False
) -> QuerySet[Client]:
    """Clients that have each of the words in name, e-mail, phone, town or post code;
    those put aside only where they are asked for."""
    for word in _words(words):
        clients = clients.filter(
            Q(name__icontains=word)
            | Q(email__icontains=word)
            | Q(phone__icontains=word)
            | Q(town__icontains=word)
            | Q(post_code__icontains=word)
        )
    return clients.filter(is_active=not aside)


def barns_with(
    barns: QuerySet[Barn],
    *,
    words: str = "",
    area: str = "",
    aside: bool = False,
    no_position: bool = False,
) -> QuerySet[Barn]:
    """Barns that have each of the words in name, town or post code, in one area (its
    key as text; 'none': without one), or without a position. Area and client come
    along."""
    for word in _words(words):
        barns = barns.filter(
            Q(name__icontains=word)
            | Q(town__icontains=word)
            | Q(post_code__icontains=word)
        )
    if area == "none":
        barns = barns.filter(area=None)
    elif area.isdecimal():  # as a row, since no row has a number too long for a key
        barns = barns.filter(area__in=Area.objects.filter(pk=int(area)))
    if no_position:
        barns = barns.filter(latitude=None)
    return barns.filter(is_active=not aside).select_related("area", "run_by")


def messages_in(state: str = "") -> QuerySet[Message]:
    """The outbox, newest first: all, or one state; 'stuck' is failed and unsure."""
    rows = Message.objects.select_related("client")
    if state == "stuck":
        return rows.filter(state__in=[Message.State.FAILED, Message.State.UNSURE])
    return rows.filter(state=state) if state in Message.State.values else rows


def home_of(practice: Practice | None) -> Position | None:
    """Where rounds begin, if that is known."""
    if practice is None or practice.home_latitude is None:
        return None
    return Position(float(practice.home_latitude), float(practice.home_longitude or 0))


def position_of(barn: Barn) -> Position | None:
    """Where a barn is, if that is known."""
    if barn.latitude is None or barn.longitude is None:
        return None
    return Position(float(barn.latitude), float(barn.longitude))


def way_from_home(barn: Barn, practice: Practice | None) -> tuple[float, str] | None:
    """Straight metres and wind (N, NE …) from home to a barn; None where a position
    is missing."""
    home, there = home_of(practice), position_of(barn)
    if home is None or there is None:
        return None
    return way(home, there)


def _words(text: str) -> list[str]:
    """What is searched for, without the sign that PostgreSQL takes in no text."""
    return text.replace("\0", " ").split()

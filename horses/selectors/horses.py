"""The practice's horses as its pages show them."""

from dataclasses import dataclass
from datetime import date

from django.contrib.auth.models import AnonymousUser
from django.db.models import Prefetch, Q, QuerySet

from horses.models import DueWindow, Horse, Ownership, Payer
from practice.models import Barn, Change, Client, User

#: What the status filter offers beside each status of its own.
ANY = "any"


def listed(
    *,
    viewer: User | AnonymousUser,
    today: date,
    search: str = "",
    barn: Barn | None = None,
    status: str = Horse.Status.ACTIVE,
) -> QuerySet[Horse]:
    """This viewer's horses with barn, due window and ``owners_now``; three queries
    whatever their number.

    Args:
        search: part of the name, breed, an owner's name, the barn's, or of a number.
        status: one of ``Horse.Status``, or ``ANY``.
    """
    rows = Horse.objects.visible_to(viewer)
    if status != ANY:
        rows = rows.filter(status=status)
    if barn is not None:
        rows = rows.at_barn(barn)
    for word in search.replace("\0", " ").split()[:6]:
        owned = Ownership.objects.on(today).filter(client__name__icontains=word)
        rows = rows.filter(
            Q(name__icontains=word)
            | Q(breed__icontains=word)
            | Q(barn__name__icontains=word)
            | Q(ueln__icontains=word)
            | Q(microchip__icontains=word)
            | Q(pk__in=owned.values("horse"))
        )
    return told(rows, today=today)


def told(rows: QuerySet[Horse], *, today: date) -> QuerySet[Horse]:
    """These horses with all that a line of a list says of them."""
    owners = Ownership.objects.on(today).select_related("client").order_by("-share")
    return rows.select_related("barn", "due_window", "usual_work").prefetch_related(
        Prefetch("ownerships", queryset=owners, to_attr="owners_now")
    )


def of_client(*, client: Client, today: date) -> list[Ownership]:
    """What a client owns today, with horse, barn and due window. One query."""
    return list(
        Ownership.objects.on(today)
        .filter(client=client)
        .select_related("horse", "horse__barn", "horse__due_window")
        .order_by("horse__name", "pk")
    )


def paid_by_client(*, client: Client, today: date) -> list[Payer]:
    """The horses that a client pays for today without being asked by share."""
    return list(
        Payer.objects.on(today)
        .filter(client=client)
        .select_related("horse", "horse__barn")
        .order_by("horse__name", "pk")
    )


@dataclass(frozen=True, slots=True)
class Owned:
    """One period of one owner, as the horse's page shows it."""

    ownership: Ownership
    is_now: bool
    is_to_come: bool


@dataclass(frozen=True, slots=True)
class HorseFile:
    """What stands on a horse's page beside its visits."""

    horse: Horse
    due: DueWindow | None
    days_to_target: int | None
    owned: list[Owned]
    payers: list[Payer]
    payer_now: Payer | None
    changes: list[Change]

    @property
    def owned_now(self) -> list[Owned]:
        return [row for row in self.owned if row.is_now]

    @property
    def is_shared(self) -> bool:
        return len(self.owned_now) > 1

    @property
    def has_other_times(self) -> bool:
        """Somebody else owned or paid before, or will."""
        others = [row for row in self.payers if row != self.payer_now]
        return bool(self.owned_else or others)

    @property
    def owned_else(self) -> list[Owned]:
        """Past and coming periods, latest first."""
        return [row for row in self.owned if not row.is_now]


def horse_file(horse: Horse, *, today: date) -> HorseFile:
    """A horse's page: owners and payers of all times, due window, last changes.
    Four queries."""
    ownerships = horse.ownerships.select_related("client").order_by("-starts", "-share")
    payers = list(horse.payers.select_related("client").order_by("-starts"))
    due = DueWindow.objects.filter(horse=horse).first()
    changes = Change.objects.filter(label="horses.horse", object_id=str(horse.pk))
    return HorseFile(
        horse=horse,
        due=due,
        days_to_target=(due.target - today).days if due else None,
        owned=[_owned(row, today) for row in ownerships],
        payers=payers,
        payer_now=next((row for row in payers if _holds(row, today)), None),
        changes=list(changes.select_related("by")[:10]),
    )


def _owned(row: Ownership, today: date) -> Owned:
    return Owned(row, is_now=_holds(row, today), is_to_come=row.starts > today)


def _holds(row: Ownership | Payer, day: date) -> bool:
    return row.starts <= day and (row.ends is None or row.ends >= day)

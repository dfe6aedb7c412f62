"""Booking a round and changing its order."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from horses.models import Horse
from practice.errors import Refused
from practice.models import Barn, User
from practice.services.changes import note_change
from scheduling.models import BookedHorse, Booking, Round, Stop
from scheduling.selectors.plans import Wish
from scheduling.services.plans import replan

FURTHEST = timedelta(days=731)
"""Nobody books further ahead: a slip of the keys in the year. Ours."""


@transaction.atomic
def book_round(
    *,
    farrier: User,
    day: date,
    wishes: Sequence[Wish],
    by: User,
    today: date,
    status: str = Booking.Status.AGREED,
    note: str = "",
) -> Round:
    """Books these barns with these horses for a farrier's day, and plans the round.

    Safe to repeat: a barn that is booked on that day already gets the horses that it
    lacks. A plan that breaks a rule is stored with what it breaks.

    Raises:
        Refused: no barns, a day that is over or years ahead, a horse that is booked elsewhere or
            stands at another barn, a stop that is attended already.
    """
    check_place(farrier, day, today)
    wishes = [wish for wish in wishes if wish.horses]
    if not wishes:
        raise Refused("Choose at least one horse.", field="horse")
    round_ = locked_round(farrier, day)
    hold(horse.pk for wish in wishes for horse in wish.horses)
    for wish in wishes:
        _book(round_, wish, by=by, status=status, note=note)
    replan(round_, keep_order=round_.by_hand)
    return round_


@transaction.atomic
def reorder_best(*, round_: Round, by: User) -> Round:
    """Puts the round into its best order again, what is attended apart."""
    round_ = locked_round(round_.farrier, round_.day)
    replan(round_)
    note_change(by=by, obj=round_, action="put in order")
    return round_


@transaction.atomic
def move_stop(*, booking: Booking, places: int, by: User) -> Round:
    """Moves a stop up (−1) or down (+1); at the end of the round it stays.

    Raises:
        Refused: it or its neighbour is attended already, or it is in no round.
    """
    round_ = locked_round(booking.farrier, booking.day)
    stops = list(
        Stop.objects.filter(round=round_).select_related("booking").order_by("position")
    )
    at = next((i for i, s in enumerate(stops) if s.booking_id == booking.pk), None)
    if at is None:
        raise Refused("This stop is no longer in the round. Load the page anew.")
    to = at + (1 if places > 0 else -1)
    if not 0 <= to < len(stops):
        return round_
    if stops[at].booking.is_attended or stops[to].booking.is_attended:
        raise Refused("What is attended already keeps its place in the round.")
    _swap(stops[at], stops[to])
    replan(round_, keep_order=True)
    note_change(
        by=by,
        obj=round_,
        action="reordered",
        after={"booking": str(booking.pk), "position": to + 1},
    )
    return round_


def _swap(one: Stop, other: Stop) -> None:
    """By way of a free place, since two stops never share one."""
    free = Stop.objects.filter(round=one.round_id).aggregate(last=Max("position"))
    here, there = one.position, other.position
    for stop, position in ((one, free["last"] + 1), (other, here), (one, there)):
        stop.position = position
        stop.save(update_fields=["position", "changed_at"])


def check_place(farrier: User, day: date, today: date) -> None:
    """Refuses whoever is no farrier of the practice, and days that nobody books."""
    if not farrier.is_farrier or not farrier.is_active:
        raise Refused("Choose a farrier of the practice.", field="farrier")
    if day < today:
        raise Refused("That day is over. Choose today or a later day.", field="day")
    if day > today + FURTHEST:
        raise Refused(
            "That is more than two years ahead: is the year right?", field="day"
        )


def locked_round(farrier: User, day: date) -> Round:
    """The farrier's round of that day, made if need be, held to the transaction's end."""
    while True:
        round_, _ = Round.objects.get_or_create(farrier=farrier, day=day)
        held = (
            Round.objects.select_for_update(of=("self",))
            .select_related("farrier")
            .filter(pk=round_.pk)
            .first()
        )
        # None: whoever held it took the last booking out, and the round with it.
        if held is not None:
            return held


def _book(round_: Round, wish: Wish, *, by: User, status: str, note: str) -> None:
    booking = (
        Booking.objects.select_for_update()
        .filter(barn=wish.barn, farrier=round_.farrier, day=round_.day)
        .exclude(status=Booking.Status.CALLED_OFF)
        .first()
    )
    if booking is None:
        check_free(wish.horses, wish.barn)
        booking = Booking.objects.create(
            barn=wish.barn,
            farrier=round_.farrier,
            day=round_.day,
            status=status,
            note=note,
            typed_minutes=wish.typed_minutes,
        )
    elif booking.is_attended:
        raise Refused(
            f"{wish.barn.name} is attended already on this day. "
            "Add the horse to the visit instead."
        )
    else:
        check_free(wish.horses, wish.barn, but=booking.pk)
        if wish.typed_minutes is not None:
            booking.typed_minutes = wish.typed_minutes
            booking.save(update_fields=["typed_minutes", "changed_at"])
    added = add_horses(booking, wish.horses)
    if added:
        note_change(
            by=by,
            obj=booking,
            action="booked",
            after={
                "barn": wish.barn.name,
                "day": round_.day.isoformat(),
                "status": booking.status,
                "horses": added,
            },
        )


def hold(horses: Iterable[int]) -> None:
    """Locks the horses (primary keys) until the transaction ends, in one order for all,
    so that two farriers who book one horse at once come one after the other."""
    rows = Horse.objects.select_for_update().filter(pk__in=list(horses))
    list(rows.order_by("pk").values_list("pk"))


def check_free(horses: Sequence[Horse], barn: Barn, *, but: UUID | None = None) -> None:
    """Refuses horses that stand elsewhere or have a live booking other than ``but``."""
    for horse in horses:
        if horse.barn_id != barn.pk:
            raise Refused(
                f"{horse.name} does not stand at {barn.name}. "
                "Change the horse's barn first."
            )
    taken = (
        BookedHorse.objects.filter(horse__in=horses, booking__in=Booking.objects.live())
        .exclude(booking=but)
        .select_related("horse", "booking__farrier")
        .first()
    )
    if taken:
        other = taken.booking
        raise Refused(
            f"{taken.horse.name} is booked already: {other.day:%A} {other.day.day} "
            f"{other.day:%B} with {other.farrier.name}. Call that off first, or leave "
            "the horse out.",
            field="horse",
        )


def add_horses(booking: Booking, horses: Sequence[Horse]) -> list[str]:
    """Adds those that the booking lacks; their names."""
    there = set(
        BookedHorse.objects.filter(booking=booking).values_list("horse", flat=True)
    )
    fresh = [horse for horse in horses if horse.pk not in there]
    for horse in fresh:
        BookedHorse.objects.create(booking=booking, horse=horse)
    return [horse.name for horse in fresh]

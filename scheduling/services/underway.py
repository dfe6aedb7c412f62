"""The day under way: taps, running late, leaving a stop out.

A round is locked first, then its booking, as everywhere. Every tap may come twice: the
first one stands.
"""

from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from practice.errors import Refused
from practice.geo import Position
from practice.models import Practice, User
from practice.services.changes import note_change
from practice.services.once import made_once
from scheduling.models import Booking, DrivenRoad, Round, RoundActual, Stop, StopActual
from scheduling.selectors.plans import ends_of, position_of
from scheduling.services.bookings import call_off, lock_booking
from scheduling.services.plans import replan
from scheduling.services.rounds import locked_round

MOST_LATE = 720
LONGEST_DRIVE = timedelta(hours=10)


@transaction.atomic
def leave_home(*, round_: Round, at: datetime, by: User) -> Round:
    """The farrier drives off. Raises Refused on another day than the round's."""
    round_ = locked_round(round_.farrier, round_.day)
    _check_day(round_, at)
    actual, _ = RoundActual.objects.get_or_create(round=round_)
    if actual.left_home_at is None:
        _remember_starts(round_)
        actual.left_home_at = at
        actual.save(update_fields=["left_home_at", "changed_at"])
        _retime(round_)
    return round_


@transaction.atomic
def come_home(*, round_: Round, at: datetime, by: User) -> Round:
    """The farrier is home again. Raises Refused on another day than the round's."""
    round_ = locked_round(round_.farrier, round_.day)
    _check_day(round_, at)
    actual, _ = RoundActual.objects.get_or_create(round=round_)
    if actual.home_at is None:
        actual.home_at = at
        actual.save(update_fields=["home_at", "changed_at"])
        last = (
            StopActual.objects.filter(
                booking__stop__round=round_, left_at__isnull=False
            )
            .order_by("-left_at")
            .select_related("booking__barn")
            .first()
        )
        _, end = ends_of(
            practice=Practice.objects.the_one(),
            farrier=round_.farrier,
            day=round_.day,
        )
        if last and last.left_at:
            _keep_road(
                f"home-{round_.pk}",
                round_,
                (last.booking.barn.name, position_of(last.booking.barn), last.left_at),
                ("home", end, at),
            )
    return round_


@transaction.atomic
def arrive(*, booking: Booking, at: datetime, by: User) -> Round:
    """The farrier is at the barn: the rest of the day is timed from here.

    Raises:
        Refused: it is called off or in no round of that day.
    """
    round_, booking = _locked(booking, at)
    _remember_starts(round_)
    actual, _ = StopActual.objects.get_or_create(booking=booking)
    if actual.arrived_at is None:
        actual.arrived_at = at
        actual.save(update_fields=["arrived_at", "changed_at"])
        _keep_drive_to(round_, booking, at)
        note_change(by=by, obj=booking, action="arrived")
        _retime(round_)
    return round_


@transaction.atomic
def leave(*, booking: Booking, at: datetime, by: User) -> Round:
    """The farrier drives off from the barn.

    Raises:
        Refused: nobody has arrived there, or it is in no round of that day.
    """
    round_, booking = _locked(booking, at)
    actual = StopActual.objects.filter(booking=booking).first()
    if actual is None or actual.arrived_at is None:
        raise Refused(f"Tap 'There' at {booking.barn.name} first.")
    if actual.left_at is None:
        _remember_starts(round_)
        actual.left_at = max(at, actual.arrived_at)
        actual.save(update_fields=["left_at", "changed_at"])
        note_change(by=by, obj=booking, action="left")
        _retime(round_)
    return round_


@transaction.atomic
def run_late(
    *,
    booking: Booking,
    minutes: int,
    was: int | None = None,
    key: UUID | None = None,
    by: User,
    at: datetime,
) -> Round:
    """This stop takes so many minutes more (or is reached so many later, if nobody is
    there yet), and the rest of the day with it. Nobody is told by this alone.

    Args:
        minutes: 0: on time again, after all.
        was: how late it ran when whoever asks looked at it; a stop that runs otherwise
            by now is left as it is, so that a tap sent twice counts once.
        key: of the request, which counts once too.

    Raises:
        Refused: less than 5 or more than 240 minutes, it is over, or in no round of
            that day.
    """
    if minutes and not 5 <= minutes <= 240:
        raise Refused("Give 5 to 240 minutes.", field="minutes")
    round_, booking = _locked(booking, at)
    made_once(
        key=key,
        model=StopActual,
        said=("late", booking, minutes, was),
        make=lambda: _lengthen(round_, booking, minutes, was, by),
    )
    return round_


def _lengthen(
    round_: Round, booking: Booking, minutes: int, was: int | None, by: User
) -> StopActual:
    _remember_starts(round_)
    actual, _ = StopActual.objects.get_or_create(booking=booking)
    if actual.left_at is not None:
        raise Refused(f"{booking.barn.name} is over: choose a stop still to come.")
    if was is not None and actual.late != was:
        return actual
    field = "late_arriving" if actual.arrived_at is None else "late_leaving"
    late = min(MOST_LATE, actual.late + minutes) if minutes else 0
    setattr(actual, field, late)
    actual.save(update_fields=[field, "changed_at"])
    note_change(by=by, obj=booking, action="running late", after={"minutes": late})
    _retime(round_)
    return actual


@transaction.atomic
def skip(*, booking: Booking, by: User, at: datetime) -> Round | None:
    """Leaves a stop out of today's round: its horses are due again. Again: harmless.

    Raises:
        Refused: somebody is there or was, or it is attended.
    """
    booking = lock_booking(booking)
    actual = StopActual.objects.filter(booking=booking).first()
    if actual and actual.arrived_at:
        raise Refused("You are there already: call it off, or start the visit.")
    return call_off(booking=booking, by=by, reason="left out on the day")


# --- common parts -----------------------------------------------------------------------


def _locked(booking: Booking, at: datetime) -> tuple[Round, Booking]:
    booking = lock_booking(booking)
    if booking.status == Booking.Status.CALLED_OFF:
        raise Refused("This stop is called off.")
    round_ = (
        Round.objects.select_for_update(of=("self",))
        .select_related("farrier")
        .filter(farrier=booking.farrier, day=booking.day)
        .first()
    )
    if round_ is None:
        raise Refused("This stop is no longer in the round. Load the page anew.")
    _check_day(round_, at)
    return round_, booking


def _check_day(round_: Round, at: datetime) -> None:
    """The round's day by the practice's clock, or the small hours after it."""
    zone = Practice.objects.the_one().zone
    local = at.astimezone(zone)
    if not (
        local.date() == round_.day or (local - timedelta(hours=5)).date() == round_.day
    ):
        raise Refused("This can be said on the day of the round alone.")


def _retime(round_: Round) -> None:
    replan(round_, keep_order=True, by_hand=round_.by_hand)


def _remember_starts(round_: Round) -> None:
    """Keeps, for each stop to come, the start that people know so far."""
    stops = Stop.objects.filter(round=round_).select_related("booking")
    for stop in stops:
        actual, _ = StopActual.objects.get_or_create(booking=stop.booking)
        if actual.told_start is None and stop.booking.starts_at:
            actual.told_start = stop.booking.starts_at
            actual.save(update_fields=["told_start", "changed_at"])


_End = tuple[str, Position | None, datetime]


def _keep_drive_to(round_: Round, booking: Booking, at: datetime) -> None:
    """The drive that has just ended, for what it teaches."""
    before = (
        StopActual.objects.filter(booking__stop__round=round_, left_at__lte=at)
        .exclude(booking=booking)
        .select_related("booking__barn")
        .order_by("-left_at")
        .first()
    )
    there: _End = (booking.barn.name, position_of(booking.barn), at)
    if before and before.left_at:
        barn = before.booking.barn
        start: _End = (barn.name, position_of(barn), before.left_at)
    else:
        day = RoundActual.objects.filter(round=round_).first()
        if day is None or day.left_home_at is None:
            return
        home, _ = ends_of(
            practice=Practice.objects.the_one(),
            farrier=round_.farrier,
            day=round_.day,
        )
        start = ("home", home, day.left_home_at)
    _keep_road(f"stop-{booking.pk}", round_, start, there)


def _keep_road(key: str, round_: Round, start: _End, end: _End) -> None:
    took = end[2] - start[2]
    if start[1] is None or end[1] is None:
        return
    if not timedelta(minutes=1) <= took <= LONGEST_DRIVE:
        return
    DrivenRoad.objects.get_or_create(
        key=key,
        defaults={
            "farrier": round_.farrier,
            "day": round_.day,
            "start_name": start[0],
            "start_latitude": round(start[1].lat, 6),
            "start_longitude": round(start[1].lon, 6),
            "end_name": end[0],
            "end_latitude": round(end[1].lat, 6),
            "end_longitude": round(end[1].lon, 6),
            "minutes": round(took.total_seconds() / 60),
        },
    )

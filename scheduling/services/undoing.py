"""Taking an acceptance of proposed weeks back. Locks as in ``accepting``."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from horses.models import Horse
from practice.errors import Refused
from practice.models import Barn, User
from scheduling.models import BookedHorse, Booking, Proposal, ProposalStep, Round
from scheduling.selectors.plans import Wish
from scheduling.selectors.world_rows import said_day
from scheduling.services.accepting import digests_of, hold_rounds
from scheduling.services.bookings import call_off, reschedule
from scheduling.services.moving import locked
from scheduling.services.plans import replan
from scheduling.services.rounds import book_round, hold
from scheduling.weeks.world import plan_from_json


@transaction.atomic
def undo_accept(*, step: ProposalStep, by: User, today: date) -> bool:
    """Takes an acceptance back: what it made goes, what it moved moves back.

    Returns:
        False when it was taken back already.

    Raises:
        Refused: something was done after it, or one of its bookings was asked, agreed,
            changed or attended since.
    """
    row = locked(step.proposal)
    step = ProposalStep.objects.select_for_update().get(pk=step.pk)
    if step.undone_at:
        return False
    later = ProposalStep.objects.filter(
        proposal=row, pk__gt=step.pk, undone_at__isnull=True
    )
    if later.exists():
        raise Refused("Take back what was done after it first.")
    farriers = {str(one.pk): one for one in row.farriers.all()}
    touched = _touched(step)
    hold_rounds(touched, farriers)
    _check_places(row, step)
    hold(key for one in step.made for key in _horses_of(one))
    for one in reversed(step.made):
        _give_back(one, by=by, today=today)
    gone = {one["booking"] for one in step.made}
    row.accepted = {k: b for k, b in row.accepted.items() if b not in gone}
    row.base = {**row.base, **digests_of(touched, farriers)}
    row.save(update_fields=["accepted", "base", "changed_at"])
    for day, key in touched:
        held = Round.objects.filter(farrier=farriers[key], day=day).first()
        if held:
            replan(held, keep_order=held.by_hand)
    step.undone_at = timezone.now()
    step.save(update_fields=["undone_at", "changed_at"])
    return True


def _touched(step: ProposalStep) -> list[tuple[date, str]]:
    bookings = Booking.objects.filter(pk__in=[one["booking"] for one in step.made])
    places = {(row.day, str(row.farrier_id)) for row in bookings}
    for one in step.made:
        was = one.get("moved") or one.get("joined")
        if was:
            places.add((date.fromisoformat(was["day"]), str(was["farrier"])))
    return sorted(places, key=lambda place: (place[0], int(place[1])))


def _check_places(row: Proposal, step: ProposalStep) -> None:
    """Refused where a booking has left the round into which it was accepted."""
    plan = plan_from_json(step.before)
    keys = [one["booking"] for one in step.made]
    rows = Booking.objects.filter(pk__in=keys).select_related("barn", "farrier")
    found = {str(booking.pk): booking for booking in rows}
    for visit, key in row.accepted.items():
        booking = found.get(key)
        if booking is None:
            continue
        if (booking.day, str(booking.farrier_id)) != plan.shift_of(visit):
            raise Refused(
                f"{booking.barn.name} was moved to {said_day(booking.day)} with "
                f"{booking.farrier.name} meanwhile. Change that booking instead."
            )


def _horses_of(one: dict[str, Any]) -> list[int]:
    """The horses that an acceptance put into a booking, not those that came with it."""
    held: list[int] = one.get("horses") or one.get("joined", {}).get("horses", [])
    return held


def _give_back(one: dict[str, Any], *, by: User, today: date) -> None:
    booking = Booking.objects.select_related("barn", "farrier").get(pk=one["booking"])
    if "moved" in one:
        if not booking.is_open or booking.status == Booking.Status.AGREED:
            raise Refused(
                f"{booking.barn.name} was {booking.get_status_display()} meanwhile."
            )
        day = date.fromisoformat(one["moved"]["day"])
        farrier = User.objects.get(pk=one["moved"]["farrier"])
        reschedule(booking=booking, day=day, farrier=farrier, by=by, today=today)
        return
    horses = _horses_of(one)
    if not booking.is_open or (
        one.get("new") and booking.status != Booking.Status.PENCILLED
    ):
        raise Refused(
            f"{booking.barn.name} on {said_day(booking.day)} is "
            f"{booking.get_status_display()} by now. Change that booking instead."
        )
    BookedHorse.objects.filter(booking=booking, horse__in=horses).delete()
    if not BookedHorse.objects.filter(booking=booking).exists():
        call_off(booking=booking, by=by, reason="the acceptance was taken back")
    if "joined" in one:
        _part(one["joined"], booking, by=by, today=today)


def _part(was: dict[str, Any], booking: Booking, *, by: User, today: date) -> None:
    """Gives horses that were joined to another booking one of their own again."""
    horses = tuple(Horse.objects.filter(pk__in=was["horses"]))
    barn = Barn.objects.prefetch_related("access_hours").get(pk=booking.barn_id)
    book_round(
        farrier=User.objects.get(pk=was["farrier"]),
        day=date.fromisoformat(was["day"]),
        wishes=[Wish(barn, horses)],
        by=by,
        today=today,
        status=was["status"],
    )

"""Taking a proposal over into bookings: whole, by day, or by stop.

Locks: the proposal first, then the rounds by day and farrier, then bookings and horses,
as everywhere. What was accepted once is not done again, so that two at once come one
after the other and the second finds nothing left to do.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction

from horses.models import Horse
from practice.errors import Refused
from practice.models import Barn, User
from scheduling.models import BookedHorse, Booking, Proposal, ProposalStep, Round
from scheduling.planner.weeks import Plan
from scheduling.selectors.plans import Wish
from scheduling.selectors.world_rows import day_digests, said_day
from scheduling.services.bookings import call_off, reschedule
from scheduling.services.moving import locked, plan_of, world_of
from scheduling.services.plans import replan
from scheduling.services.rounds import book_round, hold, locked_round
from scheduling.weeks.world import Job, World, plan_to_json

ANEW = "Propose the weeks anew to take it in."


@dataclass(frozen=True, slots=True)
class Accepted:
    """What an acceptance came to. ``step``: to take it back; None when nothing was
    left to do."""

    stops: int
    days: int
    step: ProposalStep | None


@transaction.atomic
def accept(
    *,
    proposal: Proposal,
    by: User,
    today: date,
    days: Iterable[tuple[date, str]] | None = None,
    visits: Iterable[str] | None = None,
) -> Accepted:
    """Books what is proposed: new stops pencilled, moved ones moved, in one transaction.

    Args:
        days: only these days of these farriers (keys as text); None: all.
        visits: only these stops; None: all.

    Returns:
        how many stops were taken over. Again: none, and no error.

    Raises:
        Refused: a day or a horse has changed since the proposal was reckoned; nothing
            is booked then.
    """
    row = locked(proposal)
    world, plan = world_of(row), plan_of(row)
    wanted = _wanted(row, world, plan, days, visits)
    if not wanted:
        return Accepted(0, 0, None)
    farriers = {str(one.pk): one for one in row.farriers.all()}
    places = _places(world, wanted)
    rounds = hold_rounds(places, farriers)
    broken_before = {place for place, held in rounds.items() if held.breaks_a_rule}
    _check_days(row, places, farriers, today)
    jobs = {key: world.jobs[key] for key in wanted}
    horses = _horses(jobs.values())
    made = [
        _take(jobs[key], horses[key], place, farriers[place[1]], by=by, today=today)
        for key, place in wanted.items()
    ]
    _check_rounds(places, farriers, broken_before)
    row.accepted = {
        **row.accepted,
        **{key: one["booking"] for key, one in zip(wanted, made, strict=True)},
    }
    row.base = {**row.base, **digests_of(places, farriers)}
    row.save(update_fields=["accepted", "base", "changed_at"])
    step = ProposalStep.objects.create(
        proposal=row,
        kind=ProposalStep.Kind.ACCEPTED,
        said=_said(wanted),
        before=plan_to_json(plan),
        made=made,
        made_by=by,
    )
    return Accepted(len(wanted), len(set(wanted.values())), step)


def _wanted(
    row: Proposal,
    world: World,
    plan: Plan,
    days: Iterable[tuple[date, str]] | None,
    visits: Iterable[str] | None,
) -> dict[str, tuple[date, str]]:
    """The visits to take over, with their places: not those that stand there already."""
    of_days = None if days is None else set(days)
    of_visits = None if visits is None else set(visits)
    present = {
        key: place for place, ids in world.present().orders.items() for key in ids
    }
    found = {}
    for place, ids in plan.orders.items():
        for key in ids:
            if key in row.accepted or present.get(key) == place:
                continue
            if of_days is not None and place not in of_days:
                continue
            if of_visits is not None and key not in of_visits:
                continue
            found[key] = place
    return found


def _places(
    world: World, wanted: dict[str, tuple[date, str]]
) -> list[tuple[date, str]]:
    """All days touched, those that a moved booking leaves among them, in the one order
    of locking."""
    leaving = {
        (visit.booked.day, visit.booked.farrier)
        for visit in world.instance.visits
        if visit.booked and visit.id in wanted
    }
    return sorted({*wanted.values(), *leaving}, key=lambda one: (one[0], int(one[1])))


def hold_rounds(
    places: Sequence[tuple[date, str]], farriers: dict[str, User]
) -> dict[tuple[date, str], Round]:
    """The rounds of these days, locked in the order given; made where there are none."""
    return {
        (day, key): locked_round(farriers[key], day)
        for day, key in places
        if key in farriers
    }


def _check_days(
    row: Proposal,
    places: Sequence[tuple[date, str]],
    farriers: dict[str, User],
    today: date,
) -> None:
    for day, key in places:
        if day < today:
            raise Refused(f"{said_day(day)} is over. {ANEW}")
        if key not in farriers or not farriers[key].is_active:
            raise Refused(f"A farrier of this proposal has left. {ANEW}")
    now = digests_of(places, farriers)
    for day, key in places:
        name = f"{key} {day}"
        if now.get(name) != row.base.get(name):
            raise Refused(
                f"{said_day(day)} of {farriers[key].name} has changed since this was "
                f"proposed. {ANEW}"
            )


def digests_of(
    places: Sequence[tuple[date, str]], farriers: dict[str, User]
) -> dict[str, str]:
    """The digests of these days alone."""
    days = [day for day, _ in places]
    found = day_digests(
        farriers=[farriers[key] for key in {key for _, key in places}],
        first=min(days),
        last=max(days),
    )
    return {f"{key} {day}": found[f"{key} {day}"] for day, key in places}


def _take(
    job: Job,
    horses: Sequence[Horse],
    place: tuple[date, str],
    farrier: User,
    *,
    by: User,
    today: date,
) -> dict[str, Any]:
    """One stop into a booking, and what undoing it needs."""
    day = place[0]
    if job.booking is None:
        return _book(job, horses, day, farrier, by=by, today=today)
    booking = Booking.objects.select_related("barn", "farrier").get(pk=job.booking)
    _check_booking(job, booking)
    was = {"day": booking.day.isoformat(), "farrier": booking.farrier_id}
    there = _live_at(booking.barn_id, farrier, day).exclude(pk=booking.pk).first()
    if there is None:
        reschedule(booking=booking, day=day, farrier=farrier, by=by, today=today)
        return {"booking": str(booking.pk), "moved": was}
    # The barn is attended on that day already: the horses join that booking.
    status = booking.status
    call_off(booking=booking, by=by, reason=f"joined to {said_day(day)}")
    wish = Wish(booking.barn, tuple(horses), booking.typed_minutes)
    book_round(
        farrier=farrier, day=day, wishes=[wish], by=by, today=today, status=status
    )
    return {
        "booking": str(there.pk),
        "joined": {**was, "status": status, "horses": [h.pk for h in horses]},
    }


def _book(
    job: Job,
    horses: Sequence[Horse],
    day: date,
    farrier: User,
    *,
    by: User,
    today: date,
) -> dict[str, Any]:
    barn = Barn.objects.prefetch_related("access_hours").get(pk=job.barn)
    there = _live_at(barn.pk, farrier, day).first()
    before = (
        set(
            BookedHorse.objects.filter(booking=there).values_list("horse_id", flat=True)
        )
        if there
        else set()
    )
    book_round(
        farrier=farrier,
        day=day,
        wishes=[Wish(barn, tuple(horses))],
        by=by,
        today=today,
        status=Booking.Status.PENCILLED,
    )
    booking = there or _live_at(barn.pk, farrier, day).get()
    return {
        "booking": str(booking.pk),
        "new": there is None,
        "horses": [horse.pk for horse in horses if horse.pk not in before],
    }


def _horses(jobs: Collection[Job]) -> dict[str, list[Horse]]:
    """The horses of all jobs as they are now, by job; refused where one has changed
    since. They are locked at once: job by job, two at work would block each other."""
    keys = [horse.key for job in jobs for horse in job.horses]
    hold(keys)
    rows = Horse.objects.active().select_related("usual_work", "due_window")
    found = {horse.pk: horse for horse in rows.filter(pk__in=keys)}
    for told in (horse for job in jobs for horse in job.horses):
        horse = found.get(told.key)
        if horse is None:
            raise Refused(f"{told.name} is no longer among the active horses. {ANEW}")
        window = getattr(horse, "due_window", None)
        if window is None or window.earliest > told.latest:
            raise Refused(f"{told.name} was attended meanwhile. {ANEW}")
    return {job.id: [found[horse.key] for horse in job.horses] for job in jobs}


def _check_booking(job: Job, booking: Booking) -> None:
    held = set(
        BookedHorse.objects.filter(booking=booking).values_list("horse_id", flat=True)
    )
    if not booking.is_open or held != {horse.key for horse in job.horses}:
        raise Refused(f"{job.name} has changed since this was proposed. {ANEW}")
    if booking.status == Booking.Status.AGREED:
        raise Refused(f"{job.name} was agreed meanwhile and stays. {ANEW}")


def _live_at(barn: int, farrier: User, day: date) -> Any:
    return Booking.objects.filter(barn=barn, farrier=farrier, day=day).exclude(
        status=Booking.Status.CALLED_OFF
    )


def _check_rounds(
    places: Sequence[tuple[date, str]],
    farriers: dict[str, User],
    broken_before: set[tuple[date, str]],
) -> None:
    """No day may break a rule that it kept before; days left without a stop go."""
    for day, key in places:
        held = Round.objects.filter(farrier=farriers[key], day=day).first()
        if held is None:
            continue
        if (
            not Booking.objects.filter(farrier=farriers[key], day=day)
            .exclude(status=Booking.Status.CALLED_OFF)
            .exists()
        ):
            replan(held)  # takes the empty round away
        elif held.breaks_a_rule and (day, key) not in broken_before:
            rule = next(
                one["sentence"]
                for one in held.broken
                if one["kind"] not in ("position", "home")
            )
            raise Refused(f"{said_day(day)} would no longer fit: {rule} {ANEW}")


def _said(wanted: dict[str, tuple[date, str]]) -> str:
    days = {day for day, _ in wanted.values()}
    stops = f"{len(wanted)} {'stop' if len(wanted) == 1 else 'stops'}"
    if len(days) == 1:
        return f"{stops} on {said_day(next(iter(days)))}"
    return f"{stops} on {len(days)} days"

"""The demo's hours and rounds: one today, some ahead, and plenty of horses left due."""

from collections.abc import Iterator
from datetime import date, time, timedelta

from django.db import transaction

from practice.demo import set_in_house
from practice.models import Area, User
from scheduling.models import (
    BookedHorse,
    Booking,
    CalendarFeed,
    Round,
    Stop,
    UsualDay,
    WorkingDay,
)
from scheduling.selectors.due import DueBarn, due_list
from scheduling.selectors.plans import Wish
from scheduling.services.hours import DayHours, set_usual_days, set_working_day
from scheduling.services.rounds import book_round

_MOST_MINUTES = 6 * 60
"""Work of a demo round: with the road it fills a day and fits it."""
_MOST_BARNS = 4
_SHARE_LEFT = 0.5
"""So much of the due horses stays on the list, for whoever tries to book a round."""


@transaction.atomic
def load(*, today: date) -> None:
    """Loads hours and rounds of the set that is in the house; nothing a second time."""
    if set_in_house() is None or UsualDay.objects.exists():
        return
    farriers = list(User.objects.farriers().order_by("pk"))
    areas = list(Area.objects.order_by("pk"))
    for number, farrier in enumerate(farriers):
        set_usual_days(farrier=farrier, days=list(_week(number, areas)), by=farrier)
    set_working_day(
        farrier=farriers[-1],
        day=today + timedelta(days=9),
        by=farriers[-1],
        is_off=True,
        note="course",
    )
    _rounds(farriers, today)


def _week(number: int, areas: list[Area]) -> Iterator[DayHours]:
    """Monday to Friday for the first farrier, Tuesday to Saturday for the second. Today
    may be a Sunday: its round then says that nobody usually drives out."""
    first = 1 + number % 2
    for weekday in range(first, first + 5):
        yield DayHours(
            weekday=weekday,
            starts=time(8),
            ends=time(17, 30),
            break_minutes=30,
            area=areas[(weekday + number) % len(areas)] if areas else None,
        )


def _rounds(farriers: list[User], today: date) -> None:
    """Fills today and the days ahead from the due list, barn by barn."""
    viewer = farriers[0]
    due = due_list(viewer=viewer, today=today, until=today + timedelta(days=21))
    waiting = [row for row in due if row.barn and row.barn.has_position]
    spare = round(len(waiting) * _SHARE_LEFT)
    plans = (
        (today, farriers[0], Booking.Status.AGREED),
        (today, farriers[-1], Booking.Status.AGREED),
        (today + timedelta(days=1), farriers[0], Booking.Status.AGREED),
        (today + timedelta(days=2), farriers[-1], Booking.Status.ASKED),
        (today + timedelta(days=6), farriers[0], Booking.Status.PENCILLED),
    )
    booked: set[tuple[date, int]] = set()
    for day, farrier, standing in plans:
        if (day, farrier.pk) in booked:
            continue
        wishes = _fill(waiting, day, spare)
        if wishes:
            booked.add((day, farrier.pk))
            book_round(
                farrier=farrier,
                day=day,
                wishes=wishes,
                by=viewer,
                today=today,
                status=standing,
            )


def _fill(waiting: list[DueBarn], day: date, spare: int) -> list[Wish]:
    """Takes barns that are open on the day until it is full, the nearest due first."""
    wishes: list[Wish] = []
    minutes = 0
    for row in list(waiting):
        if len(waiting) <= spare or len(wishes) == _MOST_BARNS:
            break
        assert row.barn
        hours = list(row.barn.access_hours.all())
        is_shut = hours and not any(h.weekday == day.isoweekday() for h in hours)
        if is_shut or minutes + row.work_minutes > _MOST_MINUTES:
            continue
        minutes += row.work_minutes + row.barn.setup_minutes
        wishes.append(Wish(row.barn, tuple(one.horse for one in row.horses)))
        waiting.remove(row)
    return wishes


def erase() -> None:
    """Takes all of this app's rows out, for a practice that leaves the demo behind."""
    for model in (
        *(Stop, Round, BookedHorse, Booking),
        *(CalendarFeed, WorkingDay, UsualDay),
    ):
        model._default_manager.all().delete()

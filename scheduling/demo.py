"""The demo's hours and rounds: one today, some ahead, and plenty of horses left due."""

from collections.abc import Iterator
from datetime import date, time, timedelta

from django.db import transaction

from practice.demo import set_in_house
from practice.geo import distance_metres
from practice.models import Area, Client, Practice, User
from scheduling.models import (
    Ask,
    Away,
    BookedHorse,
    Booking,
    CalendarFeed,
    ClientReminders,
    Proposal,
    ProposalStep,
    Reminder,
    ReminderSettings,
    Round,
    Stop,
    UsualDay,
    WorkingDay,
)
from scheduling.selectors.booking import outlook_of
from scheduling.selectors.due import DueBarn, due_list
from scheduling.selectors.plans import Wish, position_of
from scheduling.selectors.reminders import due_clients
from scheduling.services.hours import DayHours, set_usual_days, set_working_day
from scheduling.services.reminders import keep_told
from scheduling.services.rounds import book_round

_MOST_BARNS = 5
_MOST_HORSES = 2
"""Of one barn in a demo round; the others stay on the due list."""
_SHARE_LEFT = 0.3
"""So many of the due barns are left alone, for whoever tries to book a round."""


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
    _reminders(today)


def _reminders(today: date) -> None:
    """Switched on; every ninth client is asked by phone, and one wants to hear nothing."""
    settings = ReminderSettings.objects.create(
        is_on=True, words="Please have legs and feet dry and clean, under cover if wet."
    )
    channels = ClientReminders.Channel
    for number, client in enumerate(Client.objects.order_by("pk")):
        if number % 9 == 3:
            way = channels.NONE if number == 3 else channels.PHONE
            ClientReminders.objects.create(client=client, channel=way)
    for one in due_clients(today=today):
        told = one.today(today, near_days=settings.near_days)
        if one.reach.channel == channels.PHONE:
            keep_told(one, told, today, channels.PHONE, None)


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
    viewer, practice = farriers[0], Practice.objects.the_one()
    due = due_list(viewer=viewer, today=today, until=today + timedelta(days=21))
    waiting = [row for row in due if row.barn and row.barn.has_position]
    spare = round(len(waiting) * _SHARE_LEFT)
    plans = (
        (today, farriers[0], Booking.Status.AGREED),
        (today + timedelta(days=1), farriers[0], Booking.Status.AGREED),
        (today, farriers[-1], Booking.Status.AGREED),
        (today + timedelta(days=2), farriers[-1], Booking.Status.ASKED),
        (today + timedelta(days=6), farriers[0], Booking.Status.PENCILLED),
    )
    for day, farrier, standing in plans:
        if Round.objects.filter(farrier=farrier, day=day).exists():
            continue  # a practice of one farrier
        wishes = _fill(waiting, spare, practice, farrier, day)
        if wishes:
            book_round(
                farrier=farrier,
                day=day,
                wishes=wishes,
                by=viewer,
                today=today,
                status=standing,
            )


def _fill(
    waiting: list[DueBarn], spare: int, practice: Practice, farrier: User, day: date
) -> list[Wish]:
    """The barn that is due most and the nearest to it, while the day still holds them.
    They leave the waiting list."""
    wishes: list[Wish] = []
    for row in _nearest_first(waiting):
        if len(waiting) <= spare or len(wishes) == _MOST_BARNS:
            break
        assert row.barn
        horses = tuple(one.horse for one in row.horses[:_MOST_HORSES])
        more = [*wishes, Wish(row.barn, horses)]
        outlook = outlook_of(practice=practice, farrier=farrier, day=day, wishes=more)
        if outlook.plan.fits and outlook.plan.wait_minutes <= 30:
            wishes = more
            waiting.remove(row)
    return wishes


def _nearest_first(waiting: list[DueBarn]) -> list[DueBarn]:
    places = [(row, position_of(row.barn)) for row in waiting if row.barn]
    placed = [(row, at) for row, at in places if at]
    if not placed:
        return []
    first = placed[0][1]
    return [
        row for row, _ in sorted(placed, key=lambda p: distance_metres(first, p[1]))
    ]


def erase() -> None:
    """Takes all of this app's rows out, for a practice that leaves the demo behind."""
    for model in (
        *(ProposalStep, Proposal, Away, Ask),
        *(Stop, Round, BookedHorse, Booking),
        *(Reminder, ClientReminders, ReminderSettings),
        *(CalendarFeed, WorkingDay, UsualDay),
    ):
        model._default_manager.all().delete()

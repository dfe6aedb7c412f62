"""The demo's hours and rounds: one today, some ahead, and plenty of horses left due."""

from collections.abc import Iterator
from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction

from horses.models import Horse, Visit
from practice.demo import set_in_house
from practice.geo import distance_metres
from practice.models import Area, Barn, Client, Practice, User
from scheduling.models import (
    Ask,
    Away,
    BarnClosure,
    BarnFinish,
    BookedHorse,
    Booking,
    CalendarFeed,
    ClientReminders,
    DrivenRoad,
    HorseHandling,
    HorseMinutes,
    KeptDrives,
    Lodging,
    PlanningWeights,
    Proposal,
    ProposalStep,
    Reminder,
    ReminderSettings,
    RoadMap,
    Round,
    RoundActual,
    Stop,
    StopActual,
    TravelSettings,
    UsualDay,
    WorkingDay,
)
from scheduling.selectors.booking import outlook_of
from scheduling.selectors.due import DueBarn, due_list
from scheduling.selectors.plans import Wish, home_of, position_of
from scheduling.selectors.reminders import due_clients
from scheduling.services.handling import close_barn, set_finish_by, set_handling
from scheduling.services.hours import DayHours, set_usual_days, set_working_day
from scheduling.services.plans import at_minute, replan
from scheduling.services.reminders import keep_told
from scheduling.services.rounds import book_round

_MOST_BARNS = 5
_MOST_HORSES = 2
"""Of one barn in a demo round; the others stay on the due list."""
_PAST_DAYS = 56
_SHARE_LEFT = 0.3
"""So many of the due barns are left alone, for whoever tries to book a round."""


@transaction.atomic
def load(*, today: date) -> None:
    """Loads hours and rounds of the set that is in the house; nothing a second time."""
    if set_in_house() is None or UsualDay.objects.exists():
        return
    farriers = list(User.objects.farriers().order_by("pk"))
    areas = list(Area.objects.order_by("pk"))
    learner = User.objects.filter(role=User.Role.APPRENTICE).order_by("pk").first()
    for number, farrier in enumerate(farriers):
        days = list(_week(number, areas, None if number else learner))
        set_usual_days(farrier=farrier, days=days, by=farrier)
    set_working_day(
        farrier=farriers[-1],
        day=today + timedelta(days=9),
        by=farriers[-1],
        is_off=True,
        note="course",
    )
    _handling(farriers, today)
    _past(farriers, today)
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


def _handling(farriers: list[User], today: date) -> None:
    """Cautions ask for two people; some horses know their farrier; a barn wants its
    peace from three on Fridays; another is away at a show."""
    with_cautions = Horse.objects.active().exclude(cautions="").order_by("pk")
    for number, horse in enumerate(with_cautions):
        set_handling(
            horse=horse,
            by=farriers[0],
            farrier=farriers[number % len(farriers)],
            needs_two=number == 0,
            minutes=50 if number == 1 else None,
        )
    barns = list(Barn.objects.active().order_by("pk")[:2])
    for barn in barns[:1]:
        set_finish_by(barn=barn, by=farriers[0], times={5: time(15)})
    for barn in barns[1:]:
        first = today + timedelta(days=10)
        close_barn(
            barn=barn,
            first=first,
            last=first + timedelta(days=2),
            by=farriers[0],
            why="away at a show",
        )


def _past(farriers: list[User], today: date) -> None:
    """The visits of the last weeks as rounds with their taps: a tenth slower on the
    road and at the horses than planned, give or take."""
    since = today - timedelta(days=_PAST_DAYS)
    visits = Visit.objects.filter(
        day__range=(since, today - timedelta(days=1)),
        kind=Visit.Kind.ATTENDED,
        farrier__in=farriers,
        barn__latitude__isnull=False,
    ).order_by("day", "farrier", "pk")
    days: dict[tuple[date, User], list[Visit]] = {}
    for visit in visits.select_related("farrier", "barn"):
        assert visit.farrier
        days.setdefault((visit.day, visit.farrier), []).append(visit)
    zone = Practice.objects.the_one().zone
    for number, ((day, farrier), rows) in enumerate(days.items()):
        round_ = Round.objects.create(day=day, farrier=farrier)
        for visit in {row.barn_id: row for row in rows}.values():
            assert visit.barn
            booking = Booking.objects.create(
                barn=visit.barn, farrier=farrier, day=day, visit=visit
            )
            BookedHorse.objects.bulk_create(
                BookedHorse(booking=booking, horse=record.horse)
                for record in visit.records.select_related("horse")
            )
        replan(round_)
        Booking.objects.filter(farrier=farrier, day=day).update(
            status=Booking.Status.ATTENDED
        )
        _taps(round_, number, zone)


def _taps(round_: Round, number: int, zone: ZoneInfo) -> None:
    """Off from home, there, leave, home, as a day would have gone."""
    home = home_of(Practice.objects.the_one())
    time_, before = round_.leave, ("home", home)
    RoundActual.objects.create(
        round=round_, left_home_at=at_minute(round_.day, time_, zone)
    )
    stops = round_.stops.select_related("booking__barn").order_by("position")
    for step, stop in enumerate(stops):
        drive = max(1, round(stop.drive_minutes * _real(number, step)))
        there = time_ + drive
        stay = round((stop.end - stop.arrive) * _real(number + 2, step))
        StopActual.objects.create(
            booking=stop.booking,
            arrived_at=at_minute(round_.day, there, zone),
            left_at=at_minute(round_.day, there + stay, zone),
        )
        after = (stop.booking.barn.name, position_of(stop.booking.barn))
        if before[1] and after[1]:
            DrivenRoad.objects.create(
                key=f"stop-{stop.booking_id}",
                farrier=round_.farrier,
                day=round_.day,
                start_name=before[0],
                start_latitude=round(before[1].lat, 6),
                start_longitude=round(before[1].lon, 6),
                end_name=after[0],
                end_latitude=round(after[1].lat, 6),
                end_longitude=round(after[1].lon, 6),
                minutes=drive,
            )
        time_, before = there + stay, after


def _real(number: int, step: int) -> float:
    """What a planned minute took: 1.00 to 1.20, the same in each demo."""
    return 1.0 + 0.05 * ((3 * number + 2 * step) % 5)


def _week(number: int, areas: list[Area], beside: User | None) -> Iterator[DayHours]:
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
            rides_along=beside,
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
        *(DrivenRoad, KeptDrives, RoadMap, TravelSettings, PlanningWeights),
        *(HorseMinutes, HorseHandling, BarnFinish, BarnClosure, Lodging),
        *(CalendarFeed, WorkingDay, UsualDay),
    ):
        model._default_manager.all().delete()

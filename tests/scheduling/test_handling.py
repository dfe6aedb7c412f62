"""Who treats a horse, when a barn must be done, nights away: kept, and heeded."""

from datetime import date, time, timedelta

import pytest
from django.urls import reverse

from practice.errors import Refused
from practice.geo import Position, drive_estimate
from scheduling.models import BarnClosure, BarnFinish, HorseHandling, Lodging
from scheduling.selectors.handling import (
    BarnLimits,
    barn_limits,
    handling_of,
    lodgings,
)
from scheduling.selectors.hours import hours_of
from scheduling.selectors.plans import (
    Wish,
    home_of,
    look_ahead,
    position_of,
    within_limits,
)
from scheduling.services import handling as service
from scheduling.services.hours import DayHours, set_usual_days, set_working_day
from tests import factories

pytestmark = pytest.mark.django_db
TUESDAY = date(2026, 3, 24)


@pytest.fixture
def farrier():
    factories.make_practice()
    return factories.make_user("farrier")


def outlook(farrier, barn, horses):
    return look_ahead(
        practice=factories.Practice.objects.the_one(),
        farrier=farrier,
        day=TUESDAY,
        wishes=[Wish(barn, tuple(horses))],
    )


def test_what_is_said_of_a_horse_is_kept_and_changed(farrier):
    other = factories.make_user("farrier")
    horse = factories.make_horse()
    service.set_handling(
        horse=horse, by=farrier, farrier=other, needs_two=True, minutes=75
    )
    service.set_handling(horse=horse, by=farrier, may_treat=[farrier])
    assert HorseHandling.objects.count() == 1
    said = handling_of([horse])[horse.pk]
    assert said.preferred is None
    assert said.may_treat == {farrier.pk}
    assert said.minutes is None
    assert handling_of([factories.make_horse()]) == {}


def test_a_preferred_farrier_must_be_one_who_may(farrier):
    other = factories.make_user("farrier")
    with pytest.raises(Refused, match="not among") as refusal:
        service.set_handling(
            horse=factories.make_horse(), by=farrier, farrier=other, may_treat=[farrier]
        )
    assert refusal.value.field == "may_treat"


def test_minutes_of_the_horse_go_before_those_of_its_work(farrier):
    horse = factories.make_horse(usual_work=factories.make_work(minutes=60))
    service.set_handling(horse=horse, by=farrier, minutes=95)
    assert at_the_horse(farrier, horse) == 95
    trim, pads = factories.make_work(minutes=20), factories.make_work(minutes=70)
    service.set_handling(horse=horse, by=farrier, by_work={trim: 15, pads: 90})
    assert at_the_horse(farrier, horse) == 60
    horse.usual_work = pads
    assert at_the_horse(farrier, horse) == 90
    service.set_handling(horse=horse, by=farrier, minutes=40, by_work={pads: None})
    assert at_the_horse(farrier, horse) == 40
    horse.usual_work = trim
    assert at_the_horse(farrier, horse) == 15
    with pytest.raises(Refused) as refusal:
        service.set_handling(horse=horse, by=farrier, by_work={trim: 4})
    assert refusal.value.field == f"minutes_{trim.pk}"


def at_the_horse(farrier, horse):
    """Minutes that a round of this horse alone is planned with."""
    (stop,) = outlook(farrier, horse.barn, [horse]).plan.stops
    return stop.end - stop.start


def test_a_horse_that_needs_two_wants_somebody_along(farrier):
    horse = factories.make_horse()
    service.set_handling(horse=horse, by=farrier, needs_two=True)
    found = outlook(farrier, horse.barn, [horse])
    assert [one.kind for one in found.warnings] == ["people"]
    assert "Set who does under Hours" in found.warnings[0].sentence
    day = DayHours(2, time(8), time(17), rides_along=factories.make_user("apprentice"))
    set_usual_days(farrier=farrier, days=[day], by=farrier)
    assert outlook(farrier, horse.barn, [horse]).warnings == ()


def test_work_ends_by_the_hour_that_the_barn_asks(farrier):
    horse = factories.make_horse(usual_work=factories.make_work(minutes=60))
    service.set_finish_by(barn=horse.barn, by=farrier, times={2: time(9), 3: None})
    assert barn_limits([horse.barn], TUESDAY, TUESDAY)[horse.barn_id].finish_by == {
        2: 540
    }
    plan = outlook(farrier, horse.barn, [horse]).plan
    assert [one.kind for one in plan.broken] == ["hours"]
    service.set_finish_by(barn=horse.barn, by=farrier, times={2: time(15)})
    assert outlook(farrier, horse.barn, [horse]).plan.fits


def test_hours_and_finish_meet():
    by_noon = BarnLimits({2: 720})
    assert within_limits(None, by_noon, TUESDAY, 60) == ((0, 660),)
    spans = ((480, 600), (640, 900))
    assert within_limits(spans, by_noon, TUESDAY, 60) == ((480, 600), (640, 660))
    assert within_limits(spans, by_noon, TUESDAY, 100) == ((480, 600),)
    assert within_limits(spans, by_noon, TUESDAY + timedelta(1), 60) == spans
    shut = BarnLimits(closed=((TUESDAY, TUESDAY, "show"),))
    assert within_limits(None, shut, TUESDAY, 60) == ()
    assert shut.is_closed(TUESDAY) == "show"
    assert shut.is_closed(TUESDAY + timedelta(1)) is None


def test_closed_days_are_said_and_taken_back(farrier):
    horse = factories.make_horse()
    closure = service.close_barn(
        barn=horse.barn, first=TUESDAY, last=TUESDAY + timedelta(3), by=farrier
    )
    service.close_barn(
        barn=horse.barn, first=TUESDAY, last=TUESDAY + timedelta(3), by=farrier
    )
    assert BarnClosure.objects.count() == 1
    assert [b.kind for b in outlook(farrier, horse.barn, [horse]).plan.broken] == [
        "closed"
    ]
    service.open_barn(closure=closure, by=farrier)
    assert outlook(farrier, horse.barn, [horse]).plan.fits


def test_a_night_away_ends_one_day_and_starts_the_next(farrier):
    practice = factories.Practice.objects.the_one()
    horse = factories.make_horse()
    inn = Position(56.1, -2.2)
    for _ in range(2):
        service.keep_lodging(
            farrier=farrier, night=TUESDAY, name="inn", position=inn, by=farrier
        )
    assert Lodging.objects.count() == 1
    ends = lodgings([farrier], [TUESDAY, TUESDAY + timedelta(1)])
    assert ends[farrier.pk, TUESDAY] == (None, inn)
    assert ends[farrier.pk, TUESDAY + timedelta(1)] == (inn, None)
    plan = outlook(farrier, horse.barn, [horse]).plan
    there = position_of(horse.barn)
    assert plan.stops[0].drive_minutes == (
        drive_estimate(home_of(practice), there).minutes
    )
    assert plan.home_minutes == drive_estimate(there, inn).minutes
    service.drop_lodging(farrier=farrier, night=TUESDAY, by=farrier)
    assert lodgings([farrier], [TUESDAY]) == {}


def test_an_area_is_wished_on_one_day(farrier):
    area = factories.make_area()
    set_working_day(
        farrier=farrier,
        day=TUESDAY,
        by=farrier,
        is_off=False,
        starts=time(7),
        ends=time(15),
        area=area,
    )
    assert hours_of(farrier=farrier, day=TUESDAY).area == area.name


def test_the_pages_keep_what_is_typed_and_say_what_is_wrong(client, farrier):
    client.force_login(farrier)
    horse = factories.make_horse()
    page = reverse("scheduling:horse_handling", args=[horse.pk])
    answer = client.post(page, {"minutes": "900", "needs_two": "on"})
    assert answer.status_code == 422
    assert "480 minutes (8 hours) at the most" in answer.content.decode()
    work = factories.make_work(name="Set with pads")
    own = {f"minutes_{work.pk}": "70"}
    answer = client.post(page, {"minutes": "50", "farrier": farrier.pk} | own)
    assert answer.status_code == 302
    piece = client.get(reverse("scheduling:horse_bookings", args=[horse.pk]))
    assert "50\xa0min" in piece.content.decode()
    assert "Set with pads 1\xa0h\xa010" in piece.content.decode()

    page = reverse("scheduling:barn_times", args=[horse.barn_id])
    assert client.post(page, {"by_1": "25:00"}).status_code == 422
    assert client.post(page, {"by_1": "15:00"}).status_code == 302
    assert BarnFinish.objects.get().finish_by == time(15)
    shut = reverse("scheduling:close_barn", args=[horse.barn_id])
    wrong = {"first": "2026-03-24", "last": "2026-03-20"}
    assert client.post(shut, wrong).status_code == 422
    assert client.post(shut, {"first": "2099-03-24"}).status_code == 302
    closed = BarnClosure.objects.get()
    assert closed.first == closed.last
    piece = reverse("scheduling:barn_times_piece", args=[horse.barn_id])
    assert "Monday 15:00" in client.get(piece).content.decode()

    night = reverse("scheduling:night_away", args=[farrier.pk])
    wrong = {"away-night": "2099-03-24", "away-name": "inn", "away-position": "north"}
    answer = client.post(night, wrong)
    assert answer.status_code == 422
    assert "inn" in answer.content.decode()
    good = wrong | {"away-position": "56.1, -2.2"}
    assert client.post(night, good).status_code == 302
    assert Lodging.objects.get().name == "inn"

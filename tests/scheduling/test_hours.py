"""Usual days, days otherwise, and who may set them."""

from datetime import date, time, timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.utils import timezone

from practice.errors import Refused
from scheduling.models import UsualDay, WorkingDay
from scheduling.selectors.hours import hours_of, work_hours
from scheduling.services.hours import (
    DayHours,
    clear_working_day,
    set_usual_days,
    set_working_day,
)

MONDAY = date(2026, 3, 30)
TUESDAY = date(2026, 3, 31)


@pytest.fixture
def mondays(farrier):
    """Ailsa drives out on Mondays alone, from nine to three."""
    days = [DayHours(weekday=1, starts=time(9), ends=time(15), break_minutes=20)]
    set_usual_days(farrier=farrier, days=days, by=farrier)
    return days


def test_a_farrier_who_has_set_nothing_drives_out_daily(farrier):
    hours = hours_of(farrier=farrier, day=MONDAY)
    assert (hours.starts, hours.ends, hours.break_minutes) == (time(8), time(17), 30)
    assert hours.drives_out


def test_a_weekday_that_is_not_set_is_a_day_at_home(farrier, mondays):
    hours = hours_of(farrier=farrier, day=MONDAY)
    assert (hours.starts, hours.ends, hours.break_minutes) == (time(9), time(15), 20)
    assert hours.drives_out
    assert not hours_of(farrier=farrier, day=TUESDAY).drives_out


def test_one_day_is_otherwise_and_as_usual_again(farrier, mondays):
    set_working_day(farrier=farrier, day=MONDAY, by=farrier, is_off=True, note="course")
    hours = hours_of(farrier=farrier, day=MONDAY)
    assert (hours.drives_out, hours.note) == (False, "course")
    set_working_day(
        farrier=farrier,
        day=TUESDAY,
        by=farrier,
        is_off=False,
        starts=time(10),
        ends=time(12),
    )
    assert hours_of(farrier=farrier, day=TUESDAY).drives_out
    for _ in range(2):
        clear_working_day(farrier=farrier, day=MONDAY, by=farrier)
    assert hours_of(farrier=farrier, day=MONDAY).drives_out


def test_days_out_of_order_are_refused(farrier):
    wrong = [DayHours(weekday=2, starts=time(9), ends=time(8))]
    with pytest.raises(Refused, match="Tuesday ends before its start"):
        set_usual_days(farrier=farrier, days=wrong, by=farrier)
    with pytest.raises(Refused, match="later end"):
        set_working_day(farrier=farrier, day=MONDAY, by=farrier, is_off=False)
    assert not UsualDay.objects.exists()


def test_who_rides_along_makes_two_people_of_a_day(farrier, second_farrier, apprentice):
    days = [DayHours(1, time(9), time(15), rides_along=second_farrier)]
    days += [DayHours(2, time(9), time(15), rides_along=apprentice)]
    set_usual_days(farrier=farrier, days=days, by=farrier)
    monday = work_hours(farriers=[farrier, second_farrier], days=[MONDAY, TUESDAY])
    assert monday[farrier.pk, MONDAY].people == 2
    beside = monday[second_farrier.pk, MONDAY]
    assert (beside.drives_out, beside.people) == (False, 1)
    assert beside.note == f"rides along with {farrier.name}"
    assert monday[farrier.pk, TUESDAY].company == apprentice.name
    # What is said of a day goes before the usual week.
    own = {"day": MONDAY, "is_off": False, "starts": time(9), "ends": time(12)}
    set_working_day(farrier=second_farrier, by=farrier, **own)
    assert hours_of(farrier=second_farrier, day=MONDAY).drives_out
    assert hours_of(farrier=farrier, day=MONDAY).people == 1
    clear_working_day(farrier=second_farrier, day=MONDAY, by=farrier)
    set_working_day(farrier=farrier, by=farrier, rides_alone=True, **own)
    assert hours_of(farrier=farrier, day=MONDAY).people == 1
    assert hours_of(farrier=second_farrier, day=MONDAY).drives_out
    set_working_day(farrier=farrier, by=farrier, rides_along=apprentice, **own)
    assert hours_of(farrier=farrier, day=MONDAY).company == apprentice.name
    apprentice.is_active = False
    apprentice.save(update_fields=["is_active"])
    assert hours_of(farrier=farrier, day=TUESDAY).people == 1


def test_nobody_rides_with_two_or_with_one_who_rides_along(
    farrier, second_farrier, apprentice, office
):
    def monday_with(who, person):
        days = [DayHours(1, time(9), time(15), rides_along=person)]
        set_usual_days(farrier=who, days=days, by=farrier)

    for person in (farrier, office):
        with pytest.raises(Refused, match="another farrier"):
            monday_with(farrier, person)
    monday_with(farrier, apprentice)
    with pytest.raises(Refused, match="on Mondays already") as told:
        monday_with(second_farrier, apprentice)
    assert told.value.field == "with_1"
    with pytest.raises(Refused, match="has somebody riding along on Mondays"):
        monday_with(second_farrier, farrier)
    monday_with(farrier, second_farrier)
    with pytest.raises(Refused, match="so nobody rides along with"):
        monday_with(second_farrier, apprentice)
    hours = {"is_off": False, "starts": time(9), "ends": time(12), "by": farrier}
    set_working_day(farrier=second_farrier, day=TUESDAY, **hours)
    with pytest.raises(Refused, match="own hours on Tuesday 31 March"):
        set_working_day(
            farrier=farrier, day=TUESDAY, rides_along=second_farrier, **hours
        )
    clear_working_day(farrier=second_farrier, day=TUESDAY, by=farrier)
    set_working_day(farrier=farrier, day=TUESDAY, rides_along=second_farrier, **hours)
    with pytest.raises(Refused, match="change that day first"):
        set_working_day(farrier=second_farrier, day=TUESDAY, **hours)


def test_an_apprentice_goes_on_riding_along(farrier, second_farrier, apprentice):
    """The migration: as it was taken for granted, with one farrier each."""
    name = "scheduling.migrations.0007_who_rides_along"
    import_module(name).let_apprentices_ride_along(apps, None)
    week = [MONDAY + timedelta(days=n) for n in range(7)]
    found = work_hours(farriers=[farrier, second_farrier], days=week)
    assert [found[farrier.pk, day].people for day in week] == [2] * 7
    assert found[second_farrier.pk, MONDAY].people == 1
    assert found[farrier.pk, MONDAY].starts == time(8)


def week_form(**over):
    form = {}
    for day in range(1, 8):
        form |= {f"starts_{day}": "08:00", f"ends_{day}": "17:00", f"break_{day}": "30"}
    return {**form, "drives_1": "on", "drives_3": "on", **over}


def test_the_week_is_kept_from_its_page(as_farrier, farrier, apprentice):
    address = f"/hours/{farrier.pk}/"
    assert as_farrier.post(address, week_form()).status_code == 302
    assert [day.weekday for day in UsualDay.objects.all()] == [1, 3]
    page = as_farrier.get("/hours/").content.decode()
    assert "Wednesday" in page
    wrong = week_form(ends_1="07:00", starts_5="08:15", with_3=apprentice.pk)
    answer = as_farrier.post(address, wrong)
    assert answer.status_code == 422
    assert "Monday ends before its start" in answer.content.decode()
    assert 'value="08:15"' in answer.content.decode()
    assert [day.weekday for day in UsualDay.objects.all()] == [1, 3]
    beside = week_form(with_1=apprentice.pk)
    assert as_farrier.post(address, beside).status_code == 302
    assert f"with {apprentice.name}" in as_farrier.get("/hours/").content.decode()
    day = {"day": "2999-01-07", "starts": "08:00", "ends": "12:00"}
    alone = {**day, "rides_along": "nobody"}
    assert as_farrier.post(f"{address}days/", alone).status_code == 302
    assert WorkingDay.objects.get().rides_alone


def test_a_day_off_is_kept_and_taken_back_from_the_page(as_farrier, farrier, practice):
    day = timezone.localdate(timezone=practice.zone) + timedelta(days=3)
    address = f"/hours/{farrier.pk}/days/"
    form = {"day": day.isoformat(), "is_off": "on", "note": "holiday"}
    assert as_farrier.post(address, form).status_code == 302
    assert WorkingDay.objects.get().note == "holiday"
    assert as_farrier.post(address, {"day": day.isoformat()}).status_code == 422
    assert as_farrier.post(f"{address}{day}/as-usual/").status_code == 302
    assert not WorkingDay.objects.exists()
    assert as_farrier.post(f"{address}some-day/as-usual/").status_code == 404


def test_hours_are_seen_by_staff_and_set_by_farriers_and_the_office(
    as_apprentice, as_office, as_owner, farrier
):
    address = f"/hours/{farrier.pk}/"
    assert as_apprentice.get("/hours/").status_code == 200
    assert as_apprentice.get(address).status_code == 403
    assert as_office.get(address).status_code == 200
    assert as_owner.get("/hours/").status_code == 403


def test_only_farriers_have_hours(as_office, office):
    assert as_office.get(f"/hours/{office.pk}/").status_code == 404

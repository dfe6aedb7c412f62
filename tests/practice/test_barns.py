from datetime import time
from decimal import Decimal

import pytest

from practice.errors import Refused
from practice.geo import Position
from practice.keys import uuid7
from practice.models import AccessHours, Area, Barn, Change
from practice.services import barns as service
from practice.services.barns import Hours
from tests import factories

MORNING = Hours(1, time(8), time(12))
EVENING = Hours(1, time(16), time(19))


def _form(**over):
    return {"key": str(uuid7()), "name": "Hillfoot Yard", "setup_minutes": "10", **over}


def test_a_barn_is_added_with_position_and_hours(practice, office):
    barn = service.add_barn(
        by=office,
        name=" Hillfoot  Yard",
        position=Position(55.5985625, -2.7213125),
        hours=[EVENING, MORNING],
        standing="Concrete\r\n\r\nGood light",
    )
    barn.refresh_from_db()
    assert barn.name == "Hillfoot Yard"
    assert barn.latitude == Decimal("55.598562")
    assert barn.standing == "Concrete\n\nGood light"
    assert [(h.opens, h.closes) for h in barn.access_hours.all()] == [
        (time(8), time(12)),
        (time(16), time(19)),
    ]


@pytest.mark.parametrize(
    "hours",
    [
        [Hours(1, time(9), time(9))],
        [Hours(1, time(9), time(8))],
        [Hours(1, time(9), time(12)), Hours(1, time(11), time(13))],
    ],
)
def test_hours_that_cannot_be_are_refused(practice, hours):
    with pytest.raises(Refused) as refused:
        service.add_barn(by=None, name="Yard", hours=hours)
    assert refused.value.field == "access_hours"
    assert not Barn.objects.exists()


def test_a_change_is_noted_and_what_is_not_named_stays(practice, office):
    area = factories.make_area(name="Tweed")
    barn = factories.make_barn(name="Yard", latitude=None, longitude=None)
    factories.make_access_hours(barn=barn, weekday=1)
    service.change_barn(barn=barn, by=office, area=area)
    change = Change.objects.get()
    assert (change.before, change.after) == ({"area": None}, {"area": "Tweed"})
    assert barn.access_hours.count() == 1
    service.change_barn(
        barn=barn, by=office, position=Position(55.5, -2.5), hours=[EVENING]
    )
    change = Change.objects.first()
    assert change.after == {
        "latitude": "55.500000",
        "longitude": "-2.500000",
        "access_hours": ["Monday 16:00–19:00"],
    }


def test_the_same_again_changes_and_notes_nothing(practice, office):
    barn = service.add_barn(
        by=office, name="Y", position=Position(55.5, -2.5), hours=[MORNING]
    )
    row = AccessHours.objects.get()
    Change.objects.all().delete()
    service.change_barn(
        barn=barn, by=office, name="Y", position=Position(55.5, -2.5), hours=[MORNING]
    )
    assert not Change.objects.exists()
    assert AccessHours.objects.get().pk == row.pk


def test_areas_are_named_once(practice, office):
    one = service.name_area(name="Tweed  valley", by=office)
    assert service.name_area(name="TWEED VALLEY", by=office) == one
    other = service.name_area(name="Lammermuir", by=office)
    with pytest.raises(Refused):
        service.name_area(name="tweed valley", area=other, by=office)
    service.name_area(name="tweed valley", area=one, by=office)
    assert Area.objects.get(pk=one.pk).name == "tweed valley"


def test_removing_an_area_leaves_its_barns(as_office):
    area = factories.make_area(name="Tweed")
    barn = factories.make_barn(area=area)
    as_office.post(f"/areas/{area.pk}/", {"remove": "yes"})
    barn.refresh_from_db()
    assert barn.area is None
    assert not Area.objects.exists()


@pytest.mark.parametrize(
    "typed",
    ["55.598562, -2.721312", "9C7VH7XH+CF", "H7XH+CF", "55°35'54.8\"N 2°43'16.7\"W"],
)
def test_a_position_is_taken_as_people_type_it(as_office, typed):
    answer = as_office.post("/barns/add/", _form(position=typed))
    assert answer.status_code == 302, answer.content.decode()
    barn = Barn.objects.get()
    assert float(barn.latitude) == pytest.approx(55.59856, abs=2e-4)
    assert float(barn.longitude) == pytest.approx(-2.72131, abs=2e-4)
    page = as_office.get(answer["Location"]).content.decode()
    assert "9C7VH7XH+C" in page
    assert "mi E, as the crow flies" in page or "km E, as the crow flies" in page


def test_errors_keep_what_was_typed(as_office):
    form = _form(
        position="behind the church",
        name="",
        opens_2_0="09:00",
        closes_2_0="",
        opens_3_1="10:00",
        closes_3_1="09:00",
        directions="Second gate",
    )
    answer = as_office.post("/barns/add/", form)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="behind the church"' in page
    assert 'value="09:00"' in page
    assert "Second gate" in page
    assert "Give both from and to." in page
    assert "It ends before it begins." in page
    assert not Barn.objects.exists()


def test_overlapping_times_are_told_above_the_form(as_office):
    form = _form(
        opens_1_0="08:00", closes_1_0="12:00", opens_1_1="11:00", closes_1_1="13:00"
    )
    answer = as_office.post("/barns/add/", form)
    assert answer.status_code == 422
    assert "Two times of one day overlap" in answer.content.decode()


def test_a_form_sent_twice_adds_one_barn(as_office):
    form = _form()
    first = as_office.post("/barns/add/", form)
    second = as_office.post("/barns/add/", form)
    assert first["Location"] == second["Location"]
    assert Barn.objects.count() == 1


def test_the_form_shows_and_keeps_what_the_barn_has(as_office):
    client = factories.make_client(name="Kelso Livery")
    barn = factories.make_barn(run_by=client, area=factories.make_area())
    factories.make_access_hours(barn=barn, weekday=1)
    factories.make_access_hours(barn=barn, weekday=1, opens=time(18), closes=time(20))
    path = f"/barns/{barn.pk}/edit/"
    form = as_office.get(path).context["form"]
    shown = {
        bound.html_name: bound.value()
        for bound in form
        if bound.value() not in (None, "")
    }
    position = shown.pop("position")
    answer = as_office.post(path, {**shown, "position": position})
    assert answer.status_code == 302
    assert not Change.objects.exists()
    assert barn.access_hours.count() == 2


def test_barns_without_a_position_are_listed(as_farrier):
    factories.make_barn(name="Known Yard")
    factories.make_barn(name="Lost Farm", latitude=None, longitude=None)
    page = as_farrier.get("/barns/").content.decode()
    assert "1 barn without a position" in page
    only = as_farrier.get("/barns/?no_position=on").content.decode()
    assert "Lost Farm" in only
    assert "Known Yard" not in only


def test_barns_are_filtered_by_area(as_farrier):
    area = factories.make_area(name="Tweed")
    factories.make_barn(name="In Yard", area=area)
    factories.make_barn(name="Out Yard")
    page = as_farrier.get(f"/barns/?area={area.pk}").content.decode()
    assert "In Yard" in page
    assert "Out Yard" not in page
    assert "Out Yard" in as_farrier.get("/barns/?area=none").content.decode()


def test_the_lists_ask_the_same_number_of_queries(as_farrier, grows_flat):
    def make():
        area, client = factories.make_area(), factories.make_client()
        factories.make_barn(area=area, run_by=client)

    assert grows_flat(as_farrier, "/barns/", make) <= 7
    assert grows_flat(as_farrier, "/areas/", make) <= 5


def test_a_barn_page_asks_the_same_number_of_queries(as_farrier, grows_flat):
    barn = factories.make_barn()

    def make():
        factories.make_barn_contact(barn=barn, user=factories.make_user("barn_contact"))

    assert grows_flat(as_farrier, f"/barns/{barn.pk}/", make) <= 6


@pytest.mark.parametrize(
    ("path", "method", "allowed"),
    [
        ("/barns/", "get", {"farrier", "apprentice", "office"}),
        ("/barns/{pk}/", "get", {"farrier", "apprentice", "office"}),
        ("/barns/add/", "get", {"farrier", "office"}),
        ("/barns/{pk}/edit/", "get", {"farrier", "office"}),
        ("/barns/{pk}/aside/", "post", {"farrier", "office"}),
        ("/areas/", "get", {"farrier", "office"}),
    ],
)
def test_which_roles_see_barns(request, path, method, allowed):
    for who in ("farrier", "apprentice", "office", "owner", "barn_contact"):
        browser = request.getfixturevalue(f"as_{who}")
        pk = factories.make_barn().pk
        code = getattr(browser, method)(path.format(pk=pk)).status_code
        assert (code in {200, 302}) == (who in allowed), who
        assert code in {200, 302, 403}


def test_putting_a_barn_aside_and_bringing_it_back(as_office):
    barn = factories.make_barn(name="Old Yard")
    as_office.post(f"/barns/{barn.pk}/aside/")
    assert "Old Yard" not in as_office.get("/barns/").content.decode()
    as_office.post(f"/barns/{barn.pk}/aside/", {"active": "yes"})
    assert "Old Yard" in as_office.get("/barns/").content.decode()


def test_of_very_many_clients_the_likely_ones_are_offered(as_office, monkeypatch):
    monkeypatch.setattr("practice.forms.barns.MOST_CHOICES", 3)
    runs = factories.make_client(name="Runs one")
    barn = factories.make_barn(run_by=runs)
    factories.make_client(name="Livery Ltd", kind="organisation")
    person = factories.make_client(name="Some Person")
    assert "Some Person" in as_office.get("/barns/add/").content.decode()
    factories.make_client(name="One More")
    page = as_office.get("/barns/add/").content.decode()
    assert "Livery Ltd" in page
    assert "Runs one" in page
    assert "Some Person" not in page
    asked = as_office.get(f"/barns/add/?run_by={person.pk}").content.decode()
    assert f'value="{person.pk}" selected' in asked
    as_office.post("/barns/add/", _form(run_by=person.pk))
    assert Barn.objects.get(run_by=person)
    shown = as_office.get(f"/barns/{barn.pk}/edit/").content.decode()
    assert f'value="{runs.pk}" selected' in shown

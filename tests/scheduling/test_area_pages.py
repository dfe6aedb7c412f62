"""Areas proposed, named, over a year; what a new client at a place would add."""

import re
from datetime import date, time, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from horses.models import Visit
from practice.errors import Refused
from practice.geo import Position, distance_metres, drive_estimate
from practice.models import Area, Barn, Change
from scheduling.models import AreaOutline, Round, Stop, UsualDay
from scheduling.selectors.areas import years
from scheduling.selectors.newcomer import newcomer, place_of_post_code
from scheduling.selectors.outlines import areas_round, waiting
from scheduling.selectors.plans import Wish, home_of, position_of
from scheduling.services.areas import draw_area
from scheduling.services.rounds import book_round
from tests import factories

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 20)
VALLEYS = {"Lauder": (55.72, -2.75), "Kelso": (55.60, -2.43), "Hawick": (55.42, -2.79)}


@pytest.fixture
def farrier(client):
    factories.make_practice()
    user = factories.make_user("farrier", name="Isla")
    client.force_login(user)
    return user


def barns_in_valleys():
    return {
        town: [
            factories.make_barn(
                town=town,
                latitude=Decimal(str(lat)) + Decimal(n) / 300,
                longitude=Decimal(str(lon)),
            )
            for n in range(3)
        ]
        for town, (lat, lon) in VALLEYS.items()
    }


def test_areas_are_proposed_named_and_taken_up(client, farrier):
    valleys = barns_in_valleys()
    page = reverse("scheduling:propose_areas")
    shown = client.get(page, {"apart": "12"}).content.decode()
    for town in VALLEYS:
        assert f'value="{town}"' in shown
    names = {"name_1": "North", "name_2": "  East   side ", "name_3": ""}
    for _ in range(2):
        assert client.post(page, {"apart": "12", **names}).status_code == 302
    assert set(Area.objects.values_list("name", flat=True)) == {"North", "East side"}
    assert Barn.objects.filter(area__name="North").count() == 3
    assert Barn.objects.filter(area=None).count() == 3
    assert Change.objects.filter(action="changed").count() == 6
    one = {barn.area_id for barn in Barn.objects.filter(town="Lauder")}
    assert len(one) == 1
    assert len(valleys) == 3


def test_one_name_twice_makes_one_area_of_both(client, farrier):
    barns_in_valleys()
    page = reverse("scheduling:propose_areas")
    names = {"name_1": "All", "name_2": "All", "name_3": "all"}
    client.post(page, {"apart": "12", **names})
    assert Barn.objects.filter(area__name="All").count() == 9
    assert client.post(page, {"apart": "x"}).status_code == 422
    assert client.post(page, {"apart": "12", "name_1": ""}).status_code == 422


HOLDS_LAUDER = "55.65,-2.9 55.8,-2.9 55.8,-2.6 55.65,-2.6"


def test_an_area_is_drawn_and_kept_with_its_outline(
    client, farrier, django_assert_max_num_queries
):
    valleys = barns_in_valleys()
    page = reverse("scheduling:draw_area")
    keys = [barn.pk for barn in valleys["Lauder"]]
    said = {"name": "North", "outline": HOLDS_LAUDER, "barns": keys, "was": ""}
    said |= {"from_others": "come", "order": "home"}
    for _ in range(2):
        assert client.post(page, said).status_code == 302
    area = Area.objects.get(name="North")
    assert {barn.pk for barn in area.barns.all()} == set(keys)
    assert AreaOutline.objects.get(area=area).corners[0] == [55.65, -2.9]
    assert Change.objects.filter(action="drawn").count() == 1
    newer = factories.make_barn(latitude=Decimal("55.7"), longitude=Decimal("-2.7"))
    with django_assert_max_num_queries(13):
        shown = client.get(page, {"area": area.pk})
    assert shown.context["form"].initial["barns"] == {*keys, newer.pk}
    assert waiting() == [(newer, area)]
    # The barn's own page proposes it, and puts it in.
    piece = client.get(reverse("scheduling:areas_round", args=[newer.pk]))
    assert "Put it into North" in piece.content.decode()
    client.post(reverse("scheduling:take_in", args=[newer.pk, area.pk]))
    assert area.barns.count() == 4
    piece = client.get(reverse("scheduling:areas_round", args=[newer.pk]))
    assert not piece.context["areas"]


def test_what_leaves_and_what_stays_in_another_area(farrier):
    valleys = barns_in_valleys()
    ours, theirs = valleys["Lauder"], valleys["Kelso"]
    mine = draw_area(name="Mine", barns=[one.pk for one in ours], by=farrier).area
    other = draw_area(name="Other", barns=[one.pk for one in theirs], by=farrier).area
    again = draw_area(
        name="Mine",
        area=mine,
        barns=[ours[0].pk, theirs[0].pk],
        leaving=[ours[1].pk, theirs[1].pk],
        from_others=False,
        by=farrier,
    )
    assert (again.joined, again.left, again.elsewhere) == (0, 1, 1)
    assert {one.pk for one in mine.barns.all()} == {ours[0].pk, ours[2].pk}
    assert other.barns.count() == 3
    come = draw_area(name="Mine", barns=[theirs[0].pk], by=farrier)
    assert (come.area, come.joined, other.barns.count()) == (mine, 1, 2)
    with pytest.raises(Refused, match="Draw round"):
        draw_area(name="Nothing", barns=[], by=farrier)
    with pytest.raises(Refused, match="already"):
        draw_area(name="Other", area=mine, barns=[], by=farrier)


def test_looking_again_loses_nothing_and_keeps_nothing(client, farrier):
    valleys = barns_in_valleys()
    page = reverse("scheduling:draw_area")
    keys = [barn.pk for barn in valleys["Lauder"]]
    said = {"name": "", "barns": keys, "was": "", "from_others": "stay"}
    order = str(valleys["Kelso"][0].pk)
    shown = client.post(page, {**said, "order": order, "look": "round"})
    form = shown.context["form"]
    assert form.initial["barns"] == set(keys)
    assert form.initial["from_others"] == "stay"
    assert len(form.initial["outline"]) >= 3
    names = [pick.barn.town for pick in shown.context["drawn"].picks]
    assert names[:3] == ["Kelso"] * 3
    assert not form.errors
    assert Area.objects.count() == 0
    nameless = client.post(page, {**said, "order": "home"})
    assert nameless.status_code == 422
    assert "Give the area a name." in nameless.content.decode()
    for outline in ("x", "1,2 3,4", "95,0 1,1 2,2", "nan,0 1,1 2,2", "1,2,3"):
        bad = client.post(page, {**said, "name": "A", "outline": outline})
        assert "outline" in bad.context["form"].errors
    for junk in ("x", "9" * 25, "-1", "\x00"):
        assert client.get(page, {"area": junk}).status_code == 404


def test_of_two_outlines_that_of_the_nearest_barn_comes_first(farrier):
    valleys = barns_in_valleys()
    outline = tuple(Position(*p) for p in ((55, -4), (56, -4), (56, -2), (55, -2)))
    for town in ("Hawick", "Lauder"):
        keys = [barn.pk for barn in valleys[town]]
        draw_area(name=town, barns=keys, outline=outline, by=farrier)
    barn = valleys["Kelso"][0]
    barn.latitude, barn.longitude = Decimal("55.7"), Decimal("-2.7")
    assert [area.name for area in areas_round(barn)] == ["Lauder", "Hawick"]
    barn.latitude, barn.longitude = Decimal("55.4"), Decimal("-2.8")
    assert [area.name for area in areas_round(barn)] == ["Hawick", "Lauder"]
    barn.latitude = Decimal("54.9")
    assert areas_round(barn) == []


def test_a_year_of_an_area_is_its_visits(client, farrier):
    area = factories.make_area(name="Lauder")
    barn = factories.make_barn(area=area)
    work = factories.make_work(minutes=60)
    horses = [
        factories.make_horse(barn=barn, usual_work=work, interval_weeks=6)
        for _ in range(3)
    ]
    for day, minutes in ((date(2026, 1, 5), 40), (date(2026, 1, 20), 20)):
        visit = factories.make_visit(
            horses=horses, farrier=farrier, day=day, travel_minutes=minutes
        )
        assert visit.barn == barn
    factories.make_visit(horses=horses[:1], farrier=farrier, day=date(2024, 1, 5))
    Visit.objects.create(barn=barn, farrier=farrier, day=TODAY, kind="no_show")
    UsualDay.objects.create(
        farrier=farrier, weekday=2, starts=time(8), ends=time(16), area=area
    )
    (year,) = [one for one in years(today=TODAY) if one.area == area]
    assert (year.visits, year.treated, year.drive) == (2, 6, 60)
    assert year.drive_a_horse == 10
    assert year.weekly_minutes == 30
    assert year.days == ("Isla, Tuesday",)
    assert [one.month for one in year.months][-3:] == [
        date(2026, 1, 1),
        date(2026, 2, 1),
        date(2026, 3, 1),
    ]
    assert year.months[-3].visits == 2
    page = client.get(reverse("scheduling:areas")).content.decode()
    assert "Lauder" in page


def booked(farrier, day, barn):
    horse = factories.make_horse(barn=barn, usual_work=factories.make_work(minutes=60))
    return book_round(
        farrier=farrier,
        day=day,
        wishes=[Wish(barn, (horse,))],
        by=farrier,
        today=day,
    )


def test_a_newcomer_adds_what_the_detour_takes(farrier, django_assert_max_num_queries):
    home = home_of(factories.Practice.objects.the_one())
    barn = factories.make_barn(
        latitude=Decimal("55.75"), longitude=Decimal("-2.75"), name="North"
    )
    for week in (-2, -1, 1, 2):
        booked(farrier, TODAY + timedelta(weeks=week), barn)
    there = position_of(barn)
    near = Position(55.76, -2.74)
    with django_assert_max_num_queries(18):
        found = newcomer(at=near, horses=2, minutes=45, interval_weeks=6, today=TODAY)
    detour = min(
        drive_estimate(home, near).minutes
        + drive_estimate(near, there).minutes
        - drive_estimate(home, there).minutes,
        drive_estimate(there, near).minutes
        + drive_estimate(near, home).minutes
        - drive_estimate(there, home).minutes,
    )
    assert found.a_visit == detour
    assert (found.weeks, found.fitting) == (4, 4)
    assert [one.day for one in found.days] == [
        TODAY + timedelta(weeks=1),
        TODAY + timedelta(weeks=2),
    ]
    assert found.alone == 2 * drive_estimate(home, near).minutes
    assert found.a_year == round(detour * 52 / 6)
    assert found.near[0][0] == barn
    assert found.free[0].day == TODAY + timedelta(days=1)


def test_a_full_day_has_no_room(farrier):
    barn = factories.make_barn()
    round_ = booked(farrier, TODAY + timedelta(weeks=1), barn)
    Round.objects.filter(pk=round_.pk).update(ends=time(11))
    found = newcomer(
        at=Position(55.6, -2.8), horses=4, minutes=60, interval_weeks=6, today=TODAY
    )
    assert found.a_visit is None
    assert (found.weeks, found.fitting, found.days) == (1, 0, ())
    assert Stop.objects.count() == 1


def test_a_post_code_is_that_of_known_barns(farrier):
    for lat, code in (("55.6", "TD7 5AA"), ("55.8", "TD7 5BB"), ("55.1", "TD70 1AA")):
        factories.make_barn(latitude=Decimal(lat), longitude=-3, post_code=code)
    place, barns = place_of_post_code("td7 5aa")
    assert (place.lat, len(barns)) == (55.6, 1)
    place, barns = place_of_post_code("TD7 9ZZ")
    assert (round(place.lat, 6), len(barns)) == (55.7, 2)
    assert place_of_post_code("EH1 1AA") is None
    assert place_of_post_code(" ") is None


def test_the_page_of_a_new_client(client, farrier):
    barn = factories.make_barn(post_code="TD7 5AA")
    booked(farrier, timezone.localdate() + timedelta(days=3), barn)
    page = reverse("scheduling:newcomer")
    assert client.get(page).status_code == 200
    by_barn = client.get(page, {"barn": barn.pk}).content.decode()
    assert "Driving more a visit" in by_barn
    wrong = client.get(page, {"position": "north", "horses": "2"})
    assert wrong.status_code == 422
    assert 'value="north"' in wrong.content.decode()
    unknown = client.get(page, {"post_code": "EH1 1AA"})
    assert "None of your barns has this post code" in unknown.content.decode()
    assert client.get(page, {"post_code": "TD7"}).status_code == 200
    for junk in ("9" * 20, "x", "-1", "\x00", "٣"):
        for name in ("barn", "position", "post_code"):
            assert client.get(page, {name: junk}).status_code in (200, 422)
        apart = client.get(reverse("scheduling:propose_areas"), {"apart": junk})
        assert apart.status_code in (200, 422)
    many = client.get(page, {"barn": barn.pk, "horses": "999"})
    assert many.status_code == 422


def test_the_map_for_a_pin_is_about_the_place_asked_for(client, farrier):
    valleys = barns_in_valleys()
    page = reverse("scheduling:pin_map")
    # Without a place: about home, as wide as the barns lie; here Kelso, some 20 km off.
    wide = client.get(page, {"barn": valleys["Hawick"][0].pk}).context["pin"]
    assert [name for name, _ in wide.landmarks][:1] == ["home"]
    assert len(wide.landmarks) == 9
    assert (wide.farther, wide.nearer) == (100, 15)
    near = client.get(page, {"at": "55.72, -2.75", "reach": "5"}).context["pin"]
    assert (near.farther, near.nearer) == (15, 2)
    # The picture's own figures: so many units a degree, 480 wide with 40 at each side.
    north = float(re.search(r'data-north="([\d.]+)"', near.map)[1])
    assert distance_metres(Position(55, 0), Position(56, 0)) / north == pytest.approx(
        10_000 / (420 - 30 - 2 * 40), rel=0.01
    )
    for junk in ("x", "9" * 20, "\x00", "-1", "٣"):
        asked = {"at": junk, "reach": junk, "barn": junk}
        assert client.get(page, asked).status_code == 200

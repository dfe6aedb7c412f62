"""The day under way, proposed weeks and asks, for programs."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from practice.models import Message
from scheduling.models import Booking, Round, StopActual
from scheduling.selectors.plans import Wish
from scheduling.services.rounds import book_round
from tests import factories
from tests.openapi import assert_described
from tests.scheduling.proposed import ready

pytestmark = pytest.mark.django_db


@pytest.fixture
def today(practice):
    return timezone.localdate(timezone=practice.zone)


def post(browser, address, body=None, **more):
    more = {f"HTTP_{name}": str(value) for name, value in more.items()}
    return browser.post(
        f"/api/v1/{address}", body or {}, content_type="application/json", **more
    )


def booked(farrier, day, status="agreed"):
    barn = factories.make_barn(latitude="55.620", longitude="-2.808")
    horse = factories.make_horse(barn=barn, today=day)
    round_ = book_round(
        farrier=farrier,
        day=day,
        wishes=[Wish(barn, (horse,))],
        by=farrier,
        today=day,
        status=status,
    )
    return round_, Booking.objects.get(barn=barn)


def test_the_taps_of_a_day_count_once_and_time_the_rest(as_farrier, farrier, today):
    round_, booking = booked(farrier, today)
    now = timezone.now().replace(microsecond=0)
    ago = (now - timedelta(minutes=2)).isoformat()
    off = assert_described(post(as_farrier, f"rounds/{round_.pk}/off/", {"at": ago}))
    post(as_farrier, f"rounds/{round_.pk}/off/")
    assert Round.objects.get().actual.left_home_at == now - timedelta(minutes=2)
    key, late = uuid4(), f"bookings/{booking.pk}/late/"
    for _ in range(2):
        told = post(as_farrier, late, {"minutes": 20}, IDEMPOTENCY_KEY=key)
        assert assert_described(told)["stops"][0]["start"] > off["stops"][0]["start"]
    assert StopActual.objects.get().late == 20
    other = post(as_farrier, late, {"minutes": 30}, IDEMPOTENCY_KEY=key)
    assert assert_described(other)["status"] == other.status_code == 422
    for act in ("there", "leave"):
        answer = post(as_farrier, f"bookings/{booking.pk}/{act}/")
        assert_described(answer)
    assert answer.status_code == 200
    assert StopActual.objects.get().left_at
    ahead = {"at": (now + timedelta(hours=1)).isoformat()}
    bad = assert_described(post(as_farrier, f"rounds/{round_.pk}/home/", ahead))
    assert bad["errors"][0]["pointer"] == "#/at"
    assert post(as_farrier, f"rounds/{round_.pk}/home/").status_code == 200


def test_who_is_to_hear_of_a_new_time_and_who_has(as_farrier, farrier, today):
    round_, booking = booked(farrier, today)
    owner = booking.booked.get().horse.ownerships.get().client
    post(as_farrier, f"bookings/{booking.pk}/late/", {"minutes": 30})
    news = f"rounds/{round_.pk}/news/"
    (row,) = assert_described(as_farrier.get(f"/api/v1/{news}"))
    assert (row["name"], row["by_mail"], row["is_told"]) == (owner.name, True, False)
    assert booking.barn.name in row["short"]
    told = {"booking": row["booking"], "party": row["party"], "starts": row["starts"]}
    noted = [post(as_farrier, f"rounds/{round_.pk}/told/", told) for _ in range(2)]
    assert [assert_described(one)["noted"] for one in noted] == [True, False]
    tell = {"bookings": [str(booking.pk)]}
    assert assert_described(post(as_farrier, news, tell)) == {"queued": 0}
    assert as_farrier.get(f"/api/v1/{news}").json() == []
    assert not Message.objects.filter(kind="running_late").exists()
    assert post(as_farrier, f"bookings/{booking.pk}/leave-out/").status_code == 204


def test_a_proposal_is_moved_accepted_by_day_and_taken_back(as_farrier, farrier, today):
    barn = factories.make_barn(latitude="55.620", longitude="-2.808")
    factories.make_horse(barn=barn, today=today)
    at = f"proposals/{ready(by=farrier, today=today).pk}/"
    (round_,) = as_farrier.get(f"/api/v1/{at}").json()["rounds"]
    (stop,) = round_["stops"]
    costs = as_farrier.get(f"/api/v1/{at}costs/?visit={stop['visit']}")
    other = next(
        one
        for one in assert_described(costs)
        if not one["is_here"] | bool(one["refusal"])
    )
    to = {"visit": stop["visit"], "day": other["day"], "farrier": other["farrier"]}
    moved = assert_described(post(as_farrier, f"{at}move/", to))
    assert [one["day"] for one in moved["rounds"]] == [other["day"]]
    bad = assert_described(post(as_farrier, f"{at}move/", {**to, "farrier": None}))
    assert bad["errors"][0]["pointer"] == "#/farrier"
    days = [{"day": other["day"], "farrier": other["farrier"]}]
    for stops in (1, 0):
        done = post(as_farrier, f"{at}accept/", {"days": days})
        assert assert_described(done)["stops"] == stops
    assert Booking.objects.open().count() == 1
    step = as_farrier.get(f"/api/v1/{at}").json()["step"]
    assert step["kind"] == "accepted"
    for _ in range(2):
        back = post(as_farrier, f"{at}undo/", {"step": step["id"]})
        assert assert_described(back)["step"]["kind"] == "moved"
    assert not Booking.objects.open().exists()
    assert assert_described(post(as_farrier, f"{at}stop/"))["state"] == "ready"
    assert as_farrier.delete(f"/api/v1/{at}").status_code == 204


def test_an_ask_is_answered_by_its_owner_and_by_nobody_else(
    as_office, client, farrier, today
):
    _, booking = booked(farrier, today + timedelta(days=3), "pencilled")
    asked = assert_described(post(as_office, f"bookings/{booking.pk}/ask/"))
    (again,) = assert_described(post(as_office, f"bookings/{booking.pk}/ask/"))
    assert asked == [again]
    owner = booking.booked.get().horse.ownerships.get().client
    client.force_login(factories.make_user("owner", client=owner))
    (row,) = assert_described(client.get("/api/v1/asks/?state=open"))["results"]
    assert (row["id"], row["who"]) == (again["id"], owner.name)
    answer = f"asks/{row['id']}/answer/"
    days = assert_described(client.get(f"/api/v1/asks/{row['id']}/days/"))
    wish = {"day": days[0]["day"], "farrier": days[0]["farrier"]}
    wished = post(client, answer, {"answer": "other_day", "wishes": [wish]})
    assert assert_described(wished)["wishes"] == [wish]
    never = {**wish, "day": "2001-01-01"}
    bad = post(client, answer, {"answer": "other_day", "wishes": [never]})
    assert assert_described(bad)["errors"][0]["pointer"] == "#/wishes"
    bad = post(client, answer, {"answer": "away"})
    assert assert_described(bad)["errors"][0]["pointer"] == "#/until"
    taken = post(as_office, f"asks/{row['id']}/take/", wish)
    assert assert_described(taken)["state"] == "agreed"
    assert Booking.objects.open().get().day.isoformat() == wish["day"]
    client.force_login(factories.make_user("owner", client=factories.make_client()))
    assert post(client, answer, {"answer": "agree"}).status_code == 404

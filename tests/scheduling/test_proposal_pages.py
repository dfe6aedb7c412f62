"""The pages of proposed weeks."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from scheduling.models import Booking, Proposal
from tests import factories
from tests.scheduling.proposed import ready, start

pytestmark = pytest.mark.django_db


@pytest.fixture
def farrier():
    factories.make_practice(time_zone="UTC")
    return factories.make_user("farrier")


@pytest.fixture
def proposal(farrier):
    """Two barns with a horse each, proposed for a week."""
    today = timezone.localdate()
    for north in ("55.618", "55.620"):  # near home: a drive so short is worth the day
        barn = factories.make_barn(latitude=north, longitude="-2.808")
        factories.make_horse(barn=barn, today=today)
    return ready(by=farrier, today=today)


@pytest.fixture
def page(client, farrier, proposal):
    client.force_login(farrier)
    return reverse("scheduling:proposal", args=[proposal.pk])


def test_the_form_keeps_what_was_typed_and_says_what_mends_it(client, farrier):
    client.force_login(farrier)
    today = timezone.localdate()
    form = {"starts": str(today), "weeks": "3", "farriers": [farrier.pk]}
    rest = {"may_move": "asked", "together": "1", "seconds": "5"}
    address = reverse("scheduling:propose")
    answer = client.post(address, {**form, **rest})
    assert answer.status_code == 422
    assert "Begin tomorrow or later" in answer.text
    assert 'value="3" selected' in answer.text
    tomorrow = str(today + timedelta(days=1))
    answer = client.post(address, {**form, **rest, "starts": tomorrow})
    made = Proposal.objects.get()
    assert answer["Location"] == reverse("scheduling:proposal", args=[made.pk])
    assert "Waiting its turn" in client.get(answer["Location"]).text
    progress = client.get(reverse("scheduling:proposal_progress", args=[made.pk]))
    assert progress["X-Unfinished"] == "1"


def test_a_silent_worker_is_told(client, farrier):
    client.force_login(farrier)
    row = Proposal.objects.create(
        starts=timezone.localdate(),
        state="running",
        beat_at=timezone.now() - timedelta(minutes=5),
    )
    page = client.get(reverse("scheduling:proposal", args=[row.pk]))
    assert "silent" in page.text


def test_a_stop_is_moved_without_a_script(client, page, proposal):
    """By the form of radio buttons, then back by one press."""
    visit = proposal.plan[0]["visits"][0]
    shown = client.get(f"{page}?move={visit}")
    there = next(one for one in shown.context["choices"] if not one.is_here)
    assert f'value="{there.key}"' in shown.text
    answer = client.post(f"{page}move/", {"visit": visit, "to": there.key})
    assert answer.status_code == 302
    step = proposal.steps.get()
    client.post(reverse("scheduling:proposal_undo", args=[proposal.pk, step.pk]))
    proposal.refresh_from_db()
    assert proposal.plan == proposal.found["plan"]


def test_a_move_that_breaks_a_rule_is_told_on_the_page(client, page, proposal):
    visit = proposal.plan[0]["visits"][0]
    answer = client.post(f"{page}move/", {"visit": visit, "to": "2020-01-01 1"})
    assert answer.status_code == 422
    assert "Nobody drives out on that day" in answer.text
    assert client.post(f"{page}move/", {"visit": visit}).status_code == 422


def test_the_costs_of_a_picked_up_stop_come_for_each_day(client, page, proposal):
    visit = proposal.plan[0]["visits"][0]
    told = client.get(f"{page}costs/", {"visit": visit}).json()["choices"]
    assert len(told) == 7
    assert sum(one["here"] for one in told) == 1
    assert client.get(f"{page}costs/", {"visit": "none"}).json() == {"choices": []}


def test_a_day_or_stop_that_is_not_named_accepts_nothing(client, page):
    """Least of all the whole of it."""
    for what in ("day", "stop"):
        answer = client.post(f"{page}accept/", {"what": what})
        assert answer.status_code == 422
        assert f"Choose the {what}" in answer.text
    assert not Booking.objects.exists()


def test_what_is_still_reckoned_can_not_be_acted_on(client, farrier):
    client.force_login(farrier)
    waits = reverse(
        "scheduling:proposal", args=[start(by=farrier, today=timezone.localdate()).pk]
    )
    for act in ("move", "accept"):
        assert client.post(f"{waits}{act}/", {}).status_code == 404


def test_accepting_on_the_page_and_a_change_underneath(client, page, proposal, farrier):
    day = f"{proposal.plan[0]['day']} {proposal.plan[0]['farrier']}"
    assert client.post(f"{page}accept/", {"what": "day", "day": day}).status_code == 302
    assert Booking.objects.open().exists()
    Booking.objects.all().delete()
    again = ready(by=farrier)
    factories.make_horse(barn=factories.make_barn())
    from scheduling.services.hours import set_working_day

    for row in again.plan:
        set_working_day(
            farrier=farrier,
            day=date.fromisoformat(row["day"]),
            by=farrier,
            is_off=True,
            note="ill",
        )
    answer = client.post(
        reverse("scheduling:proposal_accept", args=[again.pk]), {"what": "all"}
    )
    assert answer.status_code == 422
    assert "has changed since" in answer.text
    assert "Propose anew" in answer.text
    assert not Booking.objects.exists()

"""Weeks proposed, moved by hand, accepted, and taken back."""

from contextlib import contextmanager
from datetime import date, time, timedelta
from multiprocessing import Pipe
from uuid import uuid4

import pytest
from django.utils import timezone

from practice import outbox
from practice.errors import Refused
from practice.models import Message
from scheduling.models import Away, BookedHorse, Booking, Proposal, Round
from scheduling.planner import apart
from scheduling.selectors import moves
from scheduling.selectors.moves import choices
from scheduling.selectors.plans import Wish
from scheduling.selectors.proposals import viewed
from scheduling.services import proposals as service
from scheduling.services.accepting import accept
from scheduling.services.bookings import call_off, change_booking, reschedule
from scheduling.services.moving import move_visit, plan_of, undo_move, world_of
from scheduling.services.rounds import book_round
from scheduling.services.undoing import undo_accept
from tests import factories
from tests.scheduling.proposed import ready, start

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 24)
TOMORROW = TODAY + timedelta(days=1)


@pytest.fixture
def farrier():
    factories.make_practice()
    return factories.make_user("farrier")


@pytest.fixture
def barns(farrier):
    """Three barns with two horses each, all due today: no visit yet."""
    rows = []
    for n in range(3):
        barn = factories.make_barn(latitude="55.60", longitude=f"-2.8{n}")
        for _ in range(2):
            factories.make_horse(barn=barn, today=TODAY)
        rows.append(barn)
    return rows


def horses_at(barn):
    from horses.models import Horse

    return tuple(Horse.objects.filter(barn=barn).order_by("pk"))


def book(farrier, barn, day, status="pencilled"):
    wish = Wish(barn, horses_at(barn))
    book_round(
        farrier=farrier, day=day, wishes=[wish], by=farrier, today=TODAY, status=status
    )
    return Booking.objects.get(barn=barn, day=day)


@pytest.fixture
def searched_here(monkeypatch):
    """The search in this process: to begin another costs a second, and one test does."""

    @contextmanager
    def searching(instance, **said):
        mine, theirs = Pipe()
        mine.send((instance, said))
        apart.main(theirs)
        yield apart.Apart(mine)

    monkeypatch.setattr(apart, "searching", searching)


# --- asked for ---------------------------------------------------------------------------


def test_asking_twice_with_one_key_makes_one_proposal_and_one_job(farrier):
    key = uuid4()
    first = start(by=farrier, today=TODAY, key=key)
    assert start(by=farrier, today=TODAY, key=key) == first
    assert Message.objects.get().payload == {"proposal": str(first.pk)}
    assert first.state == Proposal.State.WAITING


@pytest.mark.parametrize(
    ("over", "field"),
    [
        ({"starts": TODAY}, "starts"),
        ({"farriers": []}, "farriers"),
        ({"seconds": 0}, "seconds"),
    ],
)
def test_what_can_not_be_proposed_is_refused(farrier, over, field):
    with pytest.raises(Refused) as refusal:
        start(by=farrier, today=TODAY, **over)
    assert refusal.value.field == field
    assert not Proposal.objects.exists()


def test_the_worker_proposes_every_due_horse(farrier, barns):
    """The whole way: outbox, search, the row. A second is all it may take."""
    proposal = start(by=farrier, today=TODAY)
    assert outbox.drain(limit=1) == 1
    proposal.refresh_from_db()
    assert (proposal.state, proposal.progress) == ("ready", 100)
    assert proposal.found["after"]["horses"] == 6
    assert proposal.found["before"]["horses"] == 0
    assert proposal.found["left"] == {}
    assert not Booking.objects.exists()  # nothing is booked by proposing


def test_a_practice_without_a_home_is_told_what_is_missing(farrier, barns):
    from practice.models import Practice

    Practice.objects.update(home_latitude=None, home_longitude=None)
    proposal = start(by=farrier, today=TODAY)
    assert outbox.drain(limit=1) == 1
    proposal.refresh_from_db()
    assert proposal.state == "failed"
    assert "home" in proposal.sentence


def test_a_worker_that_lost_its_claim_writes_no_plan(farrier, barns, searched_here):
    proposal = start(by=farrier, today=TODAY)
    service.propose_job(alive=lambda: False, proposal=str(proposal.pk))
    proposal.refresh_from_db()
    assert (proposal.state, proposal.found) == ("running", None)
    service.propose_job(alive=lambda: True, proposal=str(proposal.pk))
    proposal.refresh_from_db()
    assert (proposal.state, proposal.tries) == ("ready", 2)


def test_a_search_that_kills_its_worker_is_given_up(farrier, barns):
    proposal = start(by=farrier, today=TODAY)
    Proposal.objects.update(tries=service.MOST_TRIES, state="running")
    service.propose_job(alive=lambda: True, proposal=str(proposal.pk))
    proposal.refresh_from_db()
    assert proposal.state == "failed"
    assert "died" in proposal.sentence


def test_stopping_and_dropping_are_harmless_twice(farrier):
    proposal = start(by=farrier, today=TODAY)
    for _ in range(2):
        service.stop_proposal(proposal=proposal)
    proposal.refresh_from_db()
    assert proposal.stop_asked
    for _ in range(2):
        service.drop_proposal(proposal=proposal)
    service.propose_job(alive=lambda: True, proposal=str(proposal.pk))  # nothing there
    assert not Proposal.objects.exists()


# --- the world ---------------------------------------------------------------------------


def test_agreed_bookings_are_fixed_and_pencilled_ones_may_move(farrier, barns):
    book(farrier, barns[0], TOMORROW, "agreed")
    book(farrier, barns[1], TOMORROW, "pencilled")
    book(farrier, barns[2], TOMORROW, "asked")
    by_moves = {}
    for may in ("nothing", "pencilled", "asked"):
        world = world_of(ready(by=farrier, today=TODAY, may_move=may))
        by_moves[may] = sum(job.is_fixed for job in world.jobs.values())
    assert by_moves == {"nothing": 3, "pencilled": 2, "asked": 1}


def test_a_horse_that_is_away_is_proposed_after_it_is_back(farrier, barns):
    for horse in horses_at(barns[0]):
        Away.objects.create(horse=horse, until=TODAY + timedelta(days=3))
    world = world_of(ready(by=farrier, today=TODAY))
    rows = [v for v in world.instance.visits if world.jobs[v.id].barn == barns[0].pk]
    assert [row.earliest for row in rows] == [TODAY + timedelta(days=4)]


def test_a_barn_without_a_position_is_told_not_dropped_in_silence(farrier, barns):
    barns[0].latitude = barns[0].longitude = None
    barns[0].save()
    world = world_of(ready(by=farrier, today=TODAY))
    assert [one.name for one in world.outside] == [barns[0].name]
    assert "position" in world.outside[0].sentence
    assert len(world.outside[0].horses) == 2


def test_a_world_survives_its_json(farrier, barns):
    factories.make_access_hours(barn=barns[0], weekday=3)
    book(farrier, barns[1], TOMORROW, "asked")
    proposal = ready(by=farrier, today=TODAY)
    one = world_of(proposal)
    moves._world.cache_clear()
    again = world_of(proposal)
    assert one.instance.visits == again.instance.visits
    assert one.instance.shifts == again.instance.shifts
    assert one.jobs == again.jobs
    assert (one.instance.minutes == again.instance.minutes).all()


def test_a_program_proposes_reads_and_accepts(client, farrier, barns, searched_here):
    from django.utils import timezone

    client.force_login(farrier)
    starts = timezone.localdate() + timedelta(days=1)
    ask = {"starts": str(starts), "farriers": [farrier.pk], "weeks": 1, "seconds": 1}
    send = {"content_type": "application/json", "HTTP_IDEMPOTENCY_KEY": str(uuid4())}
    made = [client.post("/api/v1/proposals/", ask, **send) for _ in range(2)]
    assert [one.status_code for one in made] == [202, 202]
    assert made[0].json()["id"] == made[1].json()["id"]
    address = f"/api/v1/proposals/{made[0].json()['id']}/"
    assert client.get(address).json()["rounds"] == []
    assert outbox.drain(limit=5) >= 1
    told = client.get(address).json()
    assert told["proposal"]["state"] == "ready"
    stops = [stop for one in told["rounds"] for stop in one["stops"]]
    assert len(stops) == 3
    body = {"visits": [stops[0]["visit"]]}
    for count in (1, 0):
        answer = client.post(f"{address}accept/", body, content_type="application/json")
        assert answer.json()["stops"] == count
    bad = client.post(
        "/api/v1/proposals/", {**ask, "weeks": 99}, content_type="application/json"
    )
    assert bad.status_code == 422


# --- moved by hand -----------------------------------------------------------------------


def a_stop(proposal):
    return plan_of(proposal).rounds[0].visits[0]


def test_a_stop_is_moved_to_another_day_and_back(farrier, barns):
    proposal = ready(by=farrier, today=TODAY)
    visit, before = a_stop(proposal), proposal.plan
    to = TODAY + timedelta(days=3)
    step = move_visit(
        proposal=proposal, visit=visit, day=to, farrier=str(farrier.pk), by=farrier
    )
    proposal.refresh_from_db()
    assert plan_of(proposal).shift_of(visit) == (to, str(farrier.pk))
    again = move_visit(
        proposal=proposal, visit=visit, day=to, farrier=str(farrier.pk), by=farrier
    )
    assert again is None  # it stands there already
    assert undo_move(step=step)
    assert not undo_move(step=step)
    proposal.refresh_from_db()
    assert proposal.plan == before


def test_only_the_last_change_is_taken_back(farrier, barns):
    proposal = ready(by=farrier, today=TODAY)
    visit = a_stop(proposal)
    first = move_visit(proposal=proposal, visit=visit, day=None, by=farrier)
    move_visit(
        proposal=proposal,
        visit=visit,
        day=TODAY + timedelta(days=2),
        farrier=str(farrier.pk),
        by=farrier,
    )
    with pytest.raises(Refused, match="after it first"):
        undo_move(step=first)


def test_a_day_that_cannot_take_a_stop_refuses_it_with_its_reason(farrier, barns):
    factories.make_access_hours(barn=barns[0], weekday=3)  # Wednesdays alone
    proposal = ready(by=farrier, today=TODAY)
    world = world_of(proposal)
    visit = next(k for k, job in world.jobs.items() if job.barn == barns[0].pk)
    thursday = TODAY + timedelta(days=2)
    with pytest.raises(Refused, match=barns[0].name) as refusal:
        move_visit(
            proposal=proposal,
            visit=visit,
            day=thursday,
            farrier=str(farrier.pk),
            by=farrier,
        )
    assert visit not in refusal.value.sentence  # by its name, not by its key


def test_choices_say_what_each_day_costs(farrier, barns):
    proposal = ready(by=farrier, today=TODAY)
    visit = a_stop(proposal)
    rows = choices(proposal, visit)
    here = next(row for row in rows if row.is_here)
    assert here.cost == 0
    assert [r.cost for r in rows if not r.refusal] == sorted(
        r.cost for r in rows if not r.refusal
    )
    for row in rows:
        assert row.off == (row.day - TODAY).days


# --- accepted ----------------------------------------------------------------------------


def test_accepting_books_pencilled_and_again_does_nothing(farrier, barns):
    proposal = ready(by=farrier, today=TODAY)
    done = accept(proposal=proposal, by=farrier, today=TODAY)
    assert done.stops == 3
    assert set(Booking.objects.values_list("status", flat=True)) == {"pencilled"}
    assert BookedHorse.objects.count() == 6
    assert accept(proposal=proposal, by=farrier, today=TODAY).stops == 0
    assert Booking.objects.count() == 3


def test_accepting_by_stop_then_by_day_ends_where_accepting_all_does(farrier, barns):
    proposal = ready(by=farrier, today=TODAY)
    place = plan_of(proposal).rounds[0].key
    visit = a_stop(proposal)
    assert accept(proposal=proposal, by=farrier, today=TODAY, visits=[visit]).stops == 1
    accept(proposal=proposal, by=farrier, today=TODAY, days=[place])
    accept(proposal=proposal, by=farrier, today=TODAY)
    assert BookedHorse.objects.count() == 6


def test_taking_an_acceptance_back_leaves_the_house_as_it_was(farrier, barns):
    kept = book(farrier, barns[0], TODAY + timedelta(days=2), "pencilled")
    proposal = ready(by=farrier, today=TODAY)
    world = world_of(proposal)
    visit = next(k for k, job in world.jobs.items() if job.booking)
    move_visit(
        proposal=proposal,
        visit=visit,
        day=TODAY + timedelta(days=4),
        farrier=str(farrier.pk),
        by=farrier,
    )
    done = accept(proposal=proposal, by=farrier, today=TODAY)
    kept.refresh_from_db()
    assert kept.day == TODAY + timedelta(days=4)
    assert undo_accept(step=done.step, by=farrier, today=TODAY)
    assert not undo_accept(step=done.step, by=farrier, today=TODAY)
    kept.refresh_from_db()
    assert (kept.day, kept.status) == (TODAY + timedelta(days=2), "pencilled")
    assert list(Booking.objects.open()) == [kept]
    assert list(Round.objects.values_list("day", flat=True)) == [kept.day]
    assert accept(proposal=proposal, by=farrier, today=TODAY).stops == 3


def test_an_acceptance_of_which_something_was_agreed_stays(farrier, barns):
    proposal = ready(by=farrier, today=TODAY)
    done = accept(proposal=proposal, by=farrier, today=TODAY)
    Booking.objects.filter(barn=barns[0]).update(status="agreed")
    with pytest.raises(Refused, match="agreed by now"):
        undo_accept(step=done.step, by=farrier, today=TODAY)
    assert Booking.objects.open().count() == 3


def test_what_no_longer_fits_is_refused_whole(farrier, barns):
    """The barn's hours are no part of the day's digest: the planned round tells."""
    proposal = ready(by=farrier, today=TODAY)
    for weekday in range(1, 8):
        factories.make_access_hours(
            barn=barns[2], weekday=weekday, opens=time(5), closes=time(5, 30)
        )
    with pytest.raises(Refused, match="would no longer fit"):
        accept(proposal=proposal, by=farrier, today=TODAY)
    assert not Booking.objects.exists()


def test_weeks_that_are_over_are_not_booked(farrier, barns):
    proposal = ready(by=farrier, today=TODAY)
    with pytest.raises(Refused, match=r"is over\. Propose the weeks anew"):
        accept(proposal=proposal, by=farrier, today=TODAY + timedelta(days=30))


def test_old_proposals_go_when_a_new_one_is_asked_for(farrier):
    old, waits = start(by=farrier, today=TODAY), start(by=farrier, today=TODAY)
    long_ago = timezone.now() - timedelta(days=61)
    Proposal.objects.update(created_at=long_ago)
    Proposal.objects.filter(pk=old.pk).update(state=Proposal.State.FAILED)
    new = start(by=farrier, today=TODAY)
    assert set(Proposal.objects.all()) == {waits, new}


def test_an_acceptance_of_which_a_booking_was_moved_on_stays(farrier, barns):
    proposal = ready(by=farrier, today=TODAY)
    done = accept(proposal=proposal, by=farrier, today=TODAY)
    other = factories.make_user("farrier")
    moved = Booking.objects.get(barn=barns[0])
    reschedule(
        booking=moved,
        day=TODAY + timedelta(days=9),
        farrier=other,
        by=other,
        today=TODAY,
    )
    with pytest.raises(Refused, match="was moved to"):
        undo_accept(step=done.step, by=farrier, today=TODAY)
    assert Booking.objects.open().count() == 3


def other_booking(farrier, barns, proposal):
    animal = factories.make_horse(barn=factories.make_barn(), today=TODAY)
    day = plan_of(proposal).rounds[0].day
    book_round(
        farrier=farrier,
        day=day,
        wishes=[Wish(animal.barn, (animal,))],
        by=farrier,
        today=TODAY,
    )


def horse_moved(farrier, barns, proposal):
    horse = horses_at(barns[0])[0]
    horse.barn = factories.make_barn()
    horse.save(update_fields=["barn"])


def horse_booked_elsewhere(farrier, barns, proposal):
    other = factories.make_user("farrier")
    book(other, barns[0], TODAY + timedelta(days=20))


def horse_attended(farrier, barns, proposal):
    horse = horses_at(barns[0])[0]
    window = horse.due_window
    window.earliest = window.target = window.latest = TODAY + timedelta(days=60)
    window.save()


@pytest.mark.parametrize(
    "meanwhile", [other_booking, horse_moved, horse_booked_elsewhere, horse_attended]
)
def test_a_world_that_changed_underneath_refuses_and_books_nothing(
    farrier, barns, meanwhile
):
    proposal = ready(by=farrier, today=TODAY)
    meanwhile(farrier, barns, proposal)
    before = set(BookedHorse.objects.values_list("pk", flat=True))
    with pytest.raises(Refused):
        accept(proposal=proposal, by=farrier, today=TODAY)
    assert set(BookedHorse.objects.values_list("pk", flat=True)) == before
    proposal.refresh_from_db()
    assert proposal.accepted == {}


def test_a_moved_booking_that_was_agreed_meanwhile_stays(farrier, barns):
    booking = book(farrier, barns[0], TODAY + timedelta(days=2), "pencilled")
    proposal = ready(by=farrier, today=TODAY)
    move_visit(
        proposal=proposal,
        visit=str(booking.pk),
        day=TODAY + timedelta(days=4),
        farrier=str(farrier.pk),
        by=farrier,
    )
    Booking.objects.filter(pk=booking.pk).update(status="agreed")
    with pytest.raises(Refused, match="agreed meanwhile"):
        accept(proposal=proposal, by=farrier, today=TODAY)
    booking.refresh_from_db()
    assert booking.day == TODAY + timedelta(days=2)


def test_after_a_call_off_others_keep_their_days(farrier, barns, searched_here):
    """Proposing anew around what is asked moves nothing that need not move."""
    first = ready(by=farrier, today=TODAY)
    accept(proposal=first, by=farrier, today=TODAY)
    Booking.objects.update(status="asked")
    gone = Booking.objects.first()
    call_off(booking=gone, by=farrier)
    days = dict(Booking.objects.open().values_list("pk", "day"))
    again = start(by=farrier, today=TODAY)
    assert outbox.drain(limit=5) >= 1
    again.refresh_from_db()
    accept(proposal=again, by=farrier, today=TODAY)
    moved = [pk for pk, day in days.items() if Booking.objects.get(pk=pk).day != day]
    assert moved == []
    assert BookedHorse.objects.filter(booking__in=Booking.objects.open()).count() == 6


def test_the_page_reads_little(farrier, barns, django_assert_max_num_queries):
    book(farrier, barns[0], TOMORROW, "agreed")
    proposal = ready(by=farrier, today=TODAY)
    with django_assert_max_num_queries(2):  # its world once, the bookings' standing
        view = viewed(proposal)
    assert view.counts == {"new": 2, "moved": 0, "kept": 0, "agreed": 1}
    assert view.waiting == 2
    with django_assert_max_num_queries(1):
        viewed(proposal)


def test_a_booking_that_moves_is_pencilled_and_its_change_noted(farrier, barns):
    booking = book(farrier, barns[0], TODAY + timedelta(days=2))
    change_booking(
        booking=booking,
        status="asked",
        horses=list(horses_at(barns[0])),
        note="",
        typed_minutes=None,
        by=farrier,
    )
    reschedule(booking=booking, day=TOMORROW, farrier=farrier, by=farrier, today=TODAY)
    booking.refresh_from_db()
    assert booking.status == "asked"  # by hand, without anyone being asked by mail

"""Asking owners and barn contacts, and what their answers do."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from practice.errors import Refused
from practice.models import Message
from scheduling.models import Ask, Away, BookedHorse, Booking, Round
from scheduling.selectors.plans import Wish
from scheduling.selectors.slots import days_that_fit, who_could_take
from scheduling.services import answers
from scheduling.services.asks import ask_about, ask_of, horses_of, parties_of
from scheduling.services.bookings import call_off, reschedule
from scheduling.services.handling import close_barn
from scheduling.services.rounds import book_round, reorder_best
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def farrier():
    factories.make_practice(time_zone="UTC")
    return factories.make_user("farrier")


@pytest.fixture
def booking(farrier, today):
    """Two horses of two owners at one barn, pencilled for the day after tomorrow."""
    return booked(farrier, today, owners=2)


def booked(farrier, today, *, owners=1, day=2, contact=False):
    barn = factories.make_barn()
    horses = tuple(factories.make_horse(barn=barn, today=today) for _ in range(owners))
    if contact:
        factories.make_barn_contact(barn=barn, user=factories.make_user("barn_contact"))
    day = today + timedelta(days=day)
    book_round(
        farrier=farrier,
        day=day,
        wishes=[Wish(barn, horses)],
        by=farrier,
        today=today,
        status="pencilled",
    )
    return Booking.objects.get(barn=barn)


def token_of(ask):
    text = Message.objects.get(key=f"ask-{ask.pk}").body
    return text.split("/asked/")[1].split("/")[0]


def state(booking):
    return Booking.objects.get(pk=booking.pk).status


def test_everyone_concerned_is_asked_once_by_mail(farrier, today):
    booking = booked(farrier, today, owners=2, contact=True)
    made = ask_about(booking=booking, by=farrier)
    assert len(made) == 3
    assert state(booking) == "asked"
    assert ask_about(booking=booking, by=farrier) == []
    mails = Message.objects.filter(kind="ask_day")
    assert {mail.to for mail in mails} == {one.email for one in parties_of(booking)}
    for ask in made:
        assert ask_of(token_of(ask)) == ask
        assert ask.token_sha256 not in Message.objects.get(key=f"ask-{ask.pk}").body


def test_an_owner_is_told_of_own_horses_alone(farrier, today, booking):
    one, other = ask_about(booking=booking, by=farrier)
    mine, theirs = horses_of(one), horses_of(other)
    assert len(mine) == len(theirs) == 1
    text = Message.objects.get(key=f"ask-{one.pk}").body
    assert mine[0].name in text
    assert theirs[0].name not in text


def test_all_owners_agreed_is_agreed(farrier, booking):
    one, other = ask_about(booking=booking, by=farrier)
    for _ in range(2):
        answers.agree(ask=one)
        assert state(booking) == "asked"
    answers.agree(ask=other)
    assert state(booking) == "agreed"


def test_the_barns_contact_agrees_for_all(farrier, today):
    booking = booked(farrier, today, owners=2, contact=True)
    asks = ask_about(booking=booking, by=farrier)
    contact = next(one for one in asks if one.contact_id)
    answers.agree(ask=contact)
    assert state(booking) == "agreed"


def test_who_is_away_takes_own_horses_out_until_back(farrier, today, booking):
    one, other = ask_about(booking=booking, by=farrier)
    horse = horses_of(one)[0]
    until = today + timedelta(days=20)
    answers.away(ask=one, until=until, today=today)
    assert [(row.horse, row.until) for row in Away.objects.all()] == [(horse, until)]
    assert BookedHorse.objects.filter(booking=booking).count() == 1
    answers.agree(ask=other)
    assert state(booking) == "agreed"  # whoever is away is not waited for


def test_the_last_one_away_calls_the_booking_off(farrier, today):
    booking = booked(farrier, today)
    (ask,) = ask_about(booking=booking, by=farrier)
    with pytest.raises(Refused, match="later day"):
        answers.away(ask=ask, until=today, today=today)
    answers.away(ask=ask, until=today + timedelta(days=9), today=today)
    assert state(booking) == "called_off"


def test_another_day_is_offered_with_its_driving_and_taken(farrier, today):
    from practice.models import Practice

    booking = booked(farrier, today, owners=1)
    (ask,) = ask_about(booking=booking, by=farrier)
    fits = days_that_fit(
        booking=booking, practice=Practice.objects.the_one(), today=today
    )
    assert fits
    assert booking.day not in {fit.day for fit in fits}
    assert [fit.drive for fit in fits] == sorted(fit.drive for fit in fits)
    fit = fits[0]
    wish = {"day": fit.day.isoformat(), "farrier": fit.farrier, "minutes": fit.drive}
    answers.wish_other_day(ask=ask, wishes=[wish])
    assert state(booking) == "asked"
    answers.take_wish(ask=ask, day=fit.day, farrier=farrier, by=farrier, today=today)
    booking.refresh_from_db()
    assert (booking.day, booking.status) == (fit.day, "agreed")


def test_a_wish_that_is_taken_asks_the_others_anew(farrier, today, booking):
    one, other = ask_about(booking=booking, by=farrier)
    answers.agree(ask=other)
    answers.wish_other_day(ask=one, wishes=[], note="any Friday")
    day = booking.day + timedelta(days=3)
    answers.take_wish(ask=one, day=day, farrier=farrier, by=farrier, today=today)
    assert state(booking) == "asked"
    other.refresh_from_db()
    assert other.state == Ask.State.WITHDRAWN
    fresh = Ask.objects.get(client=other.client, state="open")
    assert fresh.day == day
    answers.agree(ask=fresh)
    assert state(booking) == "agreed"


def test_a_wish_is_taken_also_when_another_owner_is_away(farrier, today, booking):
    """Whose horses have left the booking is not asked about its new day."""
    gone, wisher = ask_about(booking=booking, by=farrier)
    answers.away(ask=gone, until=today + timedelta(days=9), today=today)
    answers.wish_other_day(ask=wisher, wishes=[], note="Friday")
    to = today + timedelta(days=4)
    taken = answers.take_wish(
        ask=wisher, day=to, farrier=farrier, by=farrier, today=today
    )
    assert (taken.day, state(booking)) == (to, "agreed")


def test_when_one_calls_off_the_others_who_agreed_have_agreed_on_it(farrier, booking):
    one, other = ask_about(booking=booking, by=farrier)
    answers.agree(ask=other)
    answers.call_off_own(ask=one, reason="sold")
    assert state(booking) == "agreed"


def test_who_is_away_says_a_later_day_and_stays_away(farrier, today, booking):
    one, _ = ask_about(booking=booking, by=farrier)
    horse = horses_of(one)[0]
    later = today + timedelta(days=30)
    answers.away(ask=one, until=today + timedelta(days=9), today=today)
    answers.away(ask=one, until=later, today=today)
    assert Away.objects.get(horse=horse).until == later
    for again in (
        lambda: answers.agree(ask=one),
        lambda: answers.wish_other_day(ask=one, wishes=[], note="Friday"),
    ):
        with pytest.raises(Refused, match="noted as away"):
            again()


@pytest.mark.parametrize("what", ["moved", "called off"])
def test_a_link_about_a_booking_that_moved_or_is_off_answers_nothing(
    farrier, today, what
):
    booking = booked(farrier, today)
    (ask,) = ask_about(booking=booking, by=farrier)
    token = token_of(ask)
    if what == "moved":
        reschedule(
            booking=booking,
            day=today + timedelta(days=5),
            farrier=farrier,
            by=farrier,
            today=today,
        )
        assert state(booking) == "pencilled"
    else:
        call_off(booking=booking, by=farrier)
    assert ask_of(token) is None
    with pytest.raises(Refused):
        answers.agree(ask=ask)
    # What had not gone out yet does not go, and its token is gone from the row.
    message = Message.objects.get(key=f"ask-{ask.pk}")
    assert (message.state, message.body) == ("let_go", "")


def test_an_agreed_owner_may_still_call_own_horses_off(farrier, booking):
    one, other = ask_about(booking=booking, by=farrier)
    answers.agree(ask=one)
    answers.agree(ask=other)
    with pytest.raises(Refused, match="agreed by now"):
        answers.wish_other_day(ask=one, wishes=[], note="no")
    answers.call_off_own(ask=one, reason="lame")
    assert state(booking) == "agreed"
    assert BookedHorse.objects.filter(booking=booking).count() == 1
    answers.call_off_own(ask=other)
    assert state(booking) == "called_off"


# --- the page behind the link ---------------------------------------------------------------


def test_opening_the_link_answers_nothing_and_pressing_does(client, farrier, today):
    booking = booked(farrier, today)
    (ask,) = ask_about(booking=booking, by=farrier)
    page = reverse("scheduling:asked", args=[token_of(ask)])
    for address in (page, f"{page}?answer=agree", f"{page}?answer=away"):
        for call in (client.get, client.head):
            assert call(address).status_code == 200
    assert state(booking) == "asked"
    assert client.get(page).headers["Cache-Control"].find("no-store") >= 0
    assert client.post(page, {"answer": "agree"}).status_code == 302
    assert state(booking) == "agreed"


def test_another_day_leads_on_to_the_days_and_keeps_what_is_ticked(
    client, farrier, today
):
    booking = booked(farrier, today)
    (ask,) = ask_about(booking=booking, by=farrier)
    page = reverse("scheduling:asked", args=[token_of(ask)])
    shown = client.post(page, {"answer": "other_day"})
    assert shown.status_code == 200
    fits = shown.context["fits"]
    answer = {"answer": "other_day", "send": "1"}
    assert client.post(page, answer).status_code == 422  # nothing chosen
    client.post(page, {**answer, "wish": [fits[0].key], "note": "mornings"})
    ask.refresh_from_db()
    assert ask.state == "other_day"
    assert ask.wishes[0]["day"] == fits[0].day.isoformat()
    assert ask.note == "mornings"


def test_a_wrong_or_ended_link_says_so(client, farrier, today):
    booking = booked(farrier, today)
    (ask,) = ask_about(booking=booking, by=farrier)
    page = reverse("scheduling:asked", args=[token_of(ask)])
    Ask.objects.update(expires_at=ask.created_at - timedelta(days=1))
    assert client.get(page).status_code == 404
    assert client.post(page, {"answer": "agree"}).status_code == 404
    assert client.get(reverse("scheduling:asked", args=["nothing"])).status_code == 404
    assert state(booking) == "asked"


def test_owners_and_contacts_answer_own_asks_in_their_portal(client, farrier, today):
    owner = factories.make_owner()
    barn = factories.make_barn()
    horse = factories.make_horse(owner=owner.client, barn=barn, today=today)
    book_round(
        farrier=farrier,
        day=today + timedelta(days=2),
        wishes=[Wish(barn, (horse,))],
        by=farrier,
        today=today,
        status="pencilled",
    )
    booking = Booking.objects.get()
    (ask,) = ask_about(booking=booking, by=farrier)
    page = reverse("scheduling:answer", args=[ask.pk])
    client.force_login(factories.make_owner())
    assert client.post(page, {"answer": "agree"}).status_code == 404
    client.force_login(owner)
    shown = client.get(reverse("scheduling:my_asks"))
    assert page in shown.content.decode()
    client.post(page, {"answer": "agree"})
    assert state(booking) == "agreed"


def test_an_answer_by_telephone_is_noted_by_the_books_alone(client, farrier, today):
    booking = booked(farrier, today)
    (ask,) = ask_about(booking=booking, by=farrier)
    page = reverse("scheduling:answer", args=[ask.pk])
    client.force_login(factories.make_user("apprentice"))
    assert client.get(page).status_code == 200
    assert client.post(page, {"answer": "agree"}).status_code == 403
    client.force_login(farrier)
    client.post(page, {"answer": "agree"})
    ask.refresh_from_db()
    assert ask.noted_by == farrier
    assert state(booking) == "agreed"


# --- a place come free ------------------------------------------------------------------------


def test_a_free_place_goes_to_the_nearest_due_horse_by_added_driving(farrier, today):
    from practice.models import Practice

    booked(farrier, today)  # the round stands
    near = factories.make_barn(latitude="55.610", longitude="-2.800")
    far = factories.make_barn(latitude="55.900", longitude="-2.200")
    late = factories.make_barn(latitude="55.611", longitude="-2.801")
    for barn in (far, near):
        factories.make_horse(barn=barn, today=today)
    not_yet = factories.make_horse(barn=late, today=today)
    window = not_yet.due_window
    window.earliest = window.target = window.latest = today + timedelta(days=90)
    window.save()
    found = who_could_take(
        practice=Practice.objects.the_one(),
        farrier=farrier,
        day=today + timedelta(days=2),
        today=today,
    )
    assert [one.job.barn for one in found] == [near.pk, far.pk]
    assert found[0].drive < found[1].drive


def test_a_barn_that_called_the_day_off_is_not_offered_its_place(farrier, today):
    from practice.models import Practice

    booking = booked(farrier, today)
    booked(farrier, today)  # the round stands
    call_off(booking=booking, by=farrier)
    found = who_could_take(
        practice=Practice.objects.the_one(),
        farrier=farrier,
        day=booking.day,
        today=today,
    )
    assert found == []


def test_mails_of_links_that_have_ended_are_blanked(farrier, today):
    """No token stays readable in the outbox."""
    (old,) = ask_about(booking=booked(farrier, today), by=farrier)
    Message.objects.update(state=Message.State.SENT)
    Ask.objects.update(expires_at=timezone.now() - timedelta(hours=1))
    (new,) = ask_about(booking=booked(farrier, today, day=3), by=farrier)
    assert Message.objects.get(key=f"ask-{old.pk}").body == ""
    assert Message.objects.get(key=f"ask-{new.pk}").body != ""


def test_one_tap_books_who_takes_the_place(client, farrier, today):
    booking = booked(farrier, today)
    animal = factories.make_horse(barn=factories.make_barn(), today=today)
    page = reverse("scheduling:slot", args=[farrier.pk, booking.day])
    client.force_login(farrier)
    assert animal.name in client.get(page).content.decode()
    for _ in range(2):
        client.post(page, {"horse": [animal.pk]})
    taken = Booking.objects.get(barn=animal.barn)
    assert (taken.day, taken.status) == (booking.day, "pencilled")


def test_dates_of_no_calendar_are_not_found(client, farrier):
    client.force_login(farrier)
    for day in ("2026-02-30", "soon"):
        page = reverse("scheduling:slot", args=[farrier.pk, day])
        assert client.get(page).status_code == 404


def test_an_agreed_start_is_kept_when_more_is_booked(farrier, today):
    """Nearer home, the second barn would come first: the agreed hour stands."""
    far = factories.make_barn(latitude="55.80", longitude="-2.80")
    near = factories.make_barn(latitude="55.62", longitude="-2.81")
    day = today + timedelta(days=2)

    def book(barn, status):
        horse = factories.make_horse(barn=barn, today=today)
        book_round(
            farrier=farrier,
            day=day,
            wishes=[Wish(barn, (horse,))],
            by=farrier,
            today=today,
            status=status,
        )
        return Booking.objects.get(barn=barn)

    booking = book(far, "pencilled")
    (ask,) = ask_about(booking=booking, by=farrier)
    answers.agree(ask=ask)
    starts = Booking.objects.get(pk=booking.pk).starts_at
    other = book(near, "pencilled")
    booking.refresh_from_db()
    other.refresh_from_db()
    assert timedelta(0) <= booking.starts_at - starts <= timedelta(minutes=15)
    assert other.starts_at > booking.ends_at
    close_barn(barn=far, first=day, last=day, why="a show", by=farrier)
    (broken,) = reorder_best(round_=Round.objects.get(day=day), by=farrier).broken
    assert (broken["kind"], broken["barn"]) == ("closed", str(far.pk))
    assert "agreed for this day and closed on it (a show)" in broken["sentence"]


def test_an_owner_calls_own_horses_off_an_agreed_booking(client, farrier, today):
    owner = factories.make_owner()
    barn = factories.make_barn()
    mine = factories.make_horse(owner=owner.client, barn=barn, today=today)
    other = factories.make_horse(barn=barn, today=today)
    book_round(
        farrier=farrier,
        day=today + timedelta(days=2),
        wishes=[Wish(barn, (mine, other))],
        by=farrier,
        today=today,
    )
    booking = Booking.objects.get()
    page = reverse("scheduling:my_call_off", args=[booking.pk])
    client.force_login(factories.make_owner())
    assert client.post(page).status_code == 404
    client.force_login(owner)
    shown = client.get(page).text
    assert mine.name in shown
    assert other.name not in shown
    client.post(page, {"reason": "at a show"})
    assert list(booking.booked.values_list("horse", flat=True)) == [other.pk]
    assert client.get(page).status_code == 404  # no horse of theirs is left in it

"""Accepting, answering and planning anew at once: nothing doubles, nothing is lost."""

from datetime import date, timedelta
from itertools import count
from threading import local

import pytest

from practice.errors import Refused
from scheduling.models import Ask, BookedHorse, Booking
from scheduling.selectors.plans import Wish
from scheduling.services.accepting import accept
from scheduling.services.answers import agree
from scheduling.services.asks import ask_about
from scheduling.services.moving import move_visit
from scheduling.services.rounds import book_round
from scheduling.services.undoing import undo_accept
from tests import factories
from tests.scheduling.proposed import ready

pytestmark = pytest.mark.django_db(transaction=True)

TODAY = date(2026, 3, 24)
DAY = TODAY + timedelta(days=2)


@pytest.fixture
def farrier():
    factories.make_practice()
    return factories.make_user("farrier")


def test_one_proposal_accepted_four_times_at_once_books_each_stop_once(
    farrier, at_once
):
    for north in ("55.618", "55.620"):  # near home: a drive so short is worth the day
        barn = factories.make_barn(latitude=north, longitude="-2.808")
        factories.make_horse(barn=barn, today=TODAY)
    proposal = ready(by=farrier, today=TODAY)
    done = []

    def act():
        done.append(accept(proposal=proposal, by=farrier, today=TODAY).stops)

    assert at_once(4, act) == 4
    assert Booking.objects.count() == BookedHorse.objects.count() == 2
    step = proposal.steps.get()

    def back():
        undo_accept(step=step, by=farrier, today=TODAY)

    assert at_once(4, back) == 4
    assert not Booking.objects.open().exists()


def test_an_answer_while_the_weeks_are_accepted_anew_comes_before_or_after(
    farrier, at_once
):
    """Agreed first: the move is refused and the day stays. Moved first: the link has
    ended, and the booking is pencilled. Never agreed on a day nobody was asked about."""
    barn = factories.make_barn()
    horse = factories.make_horse(barn=barn, today=TODAY)
    book_round(
        farrier=farrier,
        day=DAY,
        wishes=[Wish(barn, (horse,))],
        by=farrier,
        today=TODAY,
        status="pencilled",
    )
    booking = Booking.objects.get()
    (ask,) = ask_about(booking=booking, by=farrier)
    # The link outlives the test's own day, whatever the calendar says.
    Ask.objects.update(expires_at="2099-01-01T00:00Z")
    proposal = ready(by=farrier, today=TODAY)
    move_visit(
        proposal=proposal,
        visit=str(booking.pk),
        day=DAY + timedelta(days=2),
        farrier=str(farrier.pk),
        by=farrier,
    )
    number, mine = count(), local()
    refused = []

    def act():
        if not hasattr(mine, "number"):  # tried again where the database was locked
            mine.number = next(number)
        try:
            if mine.number % 2:
                agree(ask=ask)
            else:
                accept(proposal=proposal, by=farrier, today=TODAY)
        except Refused:
            refused.append(mine.number)

    assert at_once(2, act) == 2
    booking.refresh_from_db()
    ask.refresh_from_db()
    assert len(refused) == 1
    stands = (booking.day, booking.status, ask.state)
    assert stands in {
        (DAY, "agreed", "agreed"),
        (DAY + timedelta(days=2), "pencilled", "withdrawn"),
    }

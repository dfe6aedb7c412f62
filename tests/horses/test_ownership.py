"""Owners and payers over time."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from horses.models import Horse, Ownership, Payer
from horses.selectors.ownership import owners_on, payer_on
from horses.services.ownership import end_payer, set_owners, set_payer
from practice.errors import Refused
from practice.models import Change
from tests import factories

pytestmark = pytest.mark.django_db

DAY = date(2026, 3, 2)
ONE_DAY = timedelta(days=1)
# A database stands behind each example.
SLOW_IS_FINE = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]


@pytest.fixture
def horse(practice):
    return Horse.objects.create(name="Bramble")


@pytest.fixture
def anne(db):
    return factories.make_client(name="Anne")


@pytest.fixture
def bert(db):
    return factories.make_client(name="Bert")


def owned(horse, day):
    return {row.client.name: row.share for row in owners_on(horse, day)}


def test_a_first_owner_has_all_of_the_horse_from_that_day(horse, anne, farrier):
    set_owners(horse=horse, shares={anne: Decimal(100)}, starts=DAY, by=farrier)
    assert owned(horse, DAY) == {"Anne": 100}
    assert owned(horse, DAY - ONE_DAY) == {}


def test_a_sale_ends_the_old_period_the_day_before(horse, anne, bert, farrier):
    set_owners(horse=horse, shares={anne: Decimal(100)}, starts=DAY, by=farrier)
    sale = date(2026, 6, 1)
    set_owners(horse=horse, shares={bert: Decimal(100)}, starts=sale, by=farrier)
    assert owned(horse, sale - ONE_DAY) == {"Anne": 100}
    assert owned(horse, sale) == {"Bert": 100}
    assert Ownership.objects.get(client=anne).ends == date(2026, 5, 31)


def test_sixty_and_forty_are_two_open_periods(horse, anne, bert, farrier):
    rows = set_owners(
        horse=horse,
        shares={bert: Decimal("40"), anne: Decimal("60")},
        starts=DAY,
        by=farrier,
    )
    assert [(row.client, row.share) for row in rows] == [(anne, 60), (bert, 40)]


def test_saying_the_same_again_changes_nothing(horse, anne, farrier):
    for day in (DAY, DAY, DAY + ONE_DAY):
        set_owners(horse=horse, shares={anne: Decimal(100)}, starts=day, by=farrier)
    row = Ownership.objects.get()
    assert (row.starts, row.ends) == (DAY, None)
    assert Change.objects.filter(action="set owners").count() == 1


def test_one_whose_share_stays_keeps_one_unbroken_period(horse, anne, bert, farrier):
    cleo = factories.make_client(name="Cleo")
    half = Decimal(50)
    set_owners(horse=horse, shares={anne: half, bert: half}, starts=DAY, by=farrier)
    later = DAY + timedelta(days=90)
    set_owners(horse=horse, shares={anne: half, cleo: half}, starts=later, by=farrier)
    assert Ownership.objects.get(client=anne).starts == DAY
    assert owned(horse, later) == {"Anne": 50, "Cleo": 50}


def test_another_word_for_the_same_day_mends_it(horse, anne, bert, farrier):
    set_owners(horse=horse, shares={anne: Decimal(100)}, starts=DAY, by=farrier)
    set_owners(horse=horse, shares={bert: Decimal(100)}, starts=DAY, by=farrier)
    assert owned(horse, DAY) == {"Bert": 100}
    assert not Ownership.objects.filter(client=anne).exists()
    kept = Change.objects.filter(action="set owners").first()
    assert kept.before["owners"][0]["name"] == "Anne"


def test_a_later_change_is_not_dropped_unasked(horse, anne, bert, farrier):
    set_owners(horse=horse, shares={anne: Decimal(100)}, starts=DAY, by=farrier)
    sale = date(2026, 6, 1)
    set_owners(horse=horse, shares={bert: Decimal(100)}, starts=sale, by=farrier)
    early = sale - timedelta(days=30)
    half = {anne: Decimal(50), bert: Decimal(50)}
    with pytest.raises(Refused, match="1 June 2026") as refusal:
        set_owners(horse=horse, shares=half, starts=early, by=farrier)
    assert refusal.value.field == "starts"
    assert owned(horse, early) == {"Anne": 100}
    set_owners(horse=horse, shares=half, starts=early, by=farrier, replace_later=True)
    assert owned(horse, sale) == {"Anne": 50, "Bert": 50}


@pytest.mark.parametrize("share", ["99.99", "99.9999", "50"])
def test_shares_that_make_no_whole_horse_are_refused(horse, anne, farrier, share):
    with pytest.raises(Refused) as refusal:
        set_owners(horse=horse, shares={anne: Decimal(share)}, starts=DAY, by=farrier)
    assert refusal.value.field == "shares"
    assert not Ownership.objects.exists()


def test_no_owner_at_all_is_refused(horse, farrier):
    with pytest.raises(Refused, match="at least one owner"):
        set_owners(horse=horse, shares={}, starts=DAY, by=farrier)


_shares = st.lists(
    st.tuples(st.integers(0, 3), st.integers(1, 20)),
    min_size=1,
    max_size=4,
    unique_by=lambda pair: pair[0],
)
_words = st.lists(
    st.tuples(st.integers(0, 12), _shares, st.booleans()), min_size=1, max_size=7
)


def _percents(weights):
    """Whole percents by weight, the rest to the first: adds up to 100 by itself."""
    whole = sum(weights)
    shares = [Decimal(100 * weight // whole) for weight in weights]
    shares[0] += 100 - sum(shares)
    return shares


def _whole_on_every_day(horse, first_day, last_day):
    rows = list(Ownership.objects.filter(horse=horse))
    begins = min(row.starts for row in rows)
    day = begins
    while day <= last_day + 2 * ONE_DAY:
        holding = [
            row
            for row in rows
            if row.starts <= day and (row.ends is None or row.ends >= day)
        ]
        assert sum(row.share for row in holding) == 100, day
        clients = [row.client_id for row in holding]
        assert len(clients) == len(set(clients)), day
        day += ONE_DAY
    assert begins >= first_day


@pytest.fixture
def four_clients(practice):
    return [factories.make_client() for _ in range(4)]


@settings(deadline=None, suppress_health_check=SLOW_IS_FINE)
@given(words=_words)
def test_shares_make_one_horse_on_every_day_whatever_is_said(four_clients, words):
    """Invariant 1 of the data model, by trying to break it."""
    horse = Horse.objects.create(name="Any")
    days = [DAY + timedelta(days=offset) for offset, _, _ in words]
    for day, (_, pairs, replace) in zip(days, words, strict=True):
        percents = _percents([weight for _, weight in pairs])
        shares = {
            four_clients[index]: percent
            for (index, _), percent in zip(pairs, percents, strict=True)
        }
        try:
            set_owners(
                horse=horse, shares=shares, starts=day, by=None, replace_later=replace
            )
        except Refused:
            assert not replace
            continue
        told = {row.client: row.share for row in owners_on(horse, day)}
        assert told == shares
        _whole_on_every_day(horse, min(days), max(days))


def test_a_payer_stands_in_for_the_owners_over_a_period(horse, anne, bert, farrier):
    set_payer(horse=horse, client=anne, starts=DAY, by=farrier)
    end_payer(horse=horse, last_day=DAY + timedelta(days=9), by=farrier)
    assert payer_on(horse, DAY - ONE_DAY) is None
    assert payer_on(horse, DAY + timedelta(days=9)).client == anne
    assert payer_on(horse, DAY + timedelta(days=10)) is None


def test_a_new_payer_ends_the_one_before(horse, anne, bert, farrier):
    set_payer(horse=horse, client=anne, starts=DAY, by=farrier)
    set_payer(horse=horse, client=bert, starts=DAY + ONE_DAY, by=farrier)
    assert payer_on(horse, DAY).client == anne
    assert payer_on(horse, DAY + ONE_DAY).client == bert


def test_the_same_payer_again_is_one_row(horse, anne, farrier):
    set_payer(horse=horse, client=anne, starts=DAY, by=farrier)
    set_payer(horse=horse, client=anne, starts=DAY + ONE_DAY, by=farrier)
    assert Payer.objects.get().starts == DAY
    assert Change.objects.filter(action="set payer").count() == 1


def test_a_payer_that_is_ended_before_it_began_never_was(horse, anne, farrier):
    set_payer(horse=horse, client=anne, starts=DAY, by=farrier)
    end_payer(horse=horse, last_day=DAY - ONE_DAY, by=farrier)
    assert not Payer.objects.exists()


def test_a_later_payer_is_not_dropped_unasked(horse, anne, bert, farrier):
    set_payer(horse=horse, client=anne, starts=DAY + 9 * ONE_DAY, by=farrier)
    with pytest.raises(Refused, match="11 March 2026"):
        set_payer(horse=horse, client=bert, starts=DAY, by=farrier)
    with pytest.raises(Refused, match="11 March 2026"):
        end_payer(horse=horse, last_day=DAY, by=farrier)
    set_payer(horse=horse, client=bert, starts=DAY, by=farrier, replace_later=True)
    assert [row.client for row in Payer.objects.all()] == [bert]


@settings(deadline=None, suppress_health_check=SLOW_IS_FINE)
@given(
    words=st.lists(
        st.tuples(st.integers(0, 12), st.integers(0, 4), st.booleans()),
        min_size=1,
        max_size=8,
    )
)
def test_no_day_has_two_payers_whatever_is_said(four_clients, words):
    horse = Horse.objects.create(name="Any")
    for offset, who, replace in words:
        day = DAY + timedelta(days=offset)
        try:
            if who == 4:
                end_payer(horse=horse, last_day=day, by=None, replace_later=replace)
            else:
                set_payer(
                    horse=horse,
                    client=four_clients[who],
                    starts=day,
                    by=None,
                    replace_later=replace,
                )
        except Refused:
            assert not replace
        for step in range(-1, 15):
            on = Payer.objects.on(DAY + step * ONE_DAY).filter(horse=horse)
            assert on.count() <= 1

"""Two people who set the owners of one horse at once."""

from datetime import date
from decimal import Decimal
from itertools import count

import pytest

from horses.models import Horse, Ownership
from horses.services.ownership import set_owners
from tests import factories
from tests.practice.conftest import at_once  # noqa: F401 -- a fixture

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]

DAY = date(2026, 3, 2)


def test_the_shares_make_one_horse_whoever_comes_last(at_once):  # noqa: F811
    factories.make_practice()
    horse = Horse.objects.create(name="Bramble")
    clients = [factories.make_client() for _ in range(4)]
    set_owners(horse=horse, shares={clients[0]: Decimal(100)}, starts=DAY, by=None)
    numbers = count()

    def act():
        n = next(numbers)
        shares = {clients[n % 4]: Decimal(60), clients[(n + 1) % 4]: Decimal(40)}
        set_owners(horse=horse, shares=shares, starts=date(2026, 6, 1), by=None)

    assert at_once(6, act) == 6
    held = list(Ownership.objects.on(date(2026, 6, 1)).filter(horse=horse))
    assert sorted(row.share for row in held) == [40, 60]
    assert sum(row.share for row in Ownership.objects.on(DAY)) == 100

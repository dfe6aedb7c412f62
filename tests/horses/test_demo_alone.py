"""The demo on a database of its own: where it does not load, and what the first set has."""

from datetime import date

import pytest

from horses import demo
from horses.models import Horse, Ownership
from practice import demo as people
from practice.errors import Refused
from practice.models import Barn, User
from tests import factories

TODAY = date(2026, 11, 25)


def test_the_demo_never_mixes_with_a_real_practice(db):
    factories.make_practice(name="Real Forge")
    with pytest.raises(Refused, match="Real Forge"):
        people.load(today=TODAY)
    demo.load(today=TODAY)
    assert not Horse.objects.exists()


def test_the_first_set_has_what_the_pages_want_to_show(db):
    people.load(today=TODAY)
    demo.load(today=TODAY)
    assert 60 <= Horse.objects.count() <= 80
    assert Barn.objects.filter(latitude=None).count() == 1
    livery = Barn.objects.get(name="Cauldrigg Livery")
    owners = Ownership.objects.on(TODAY).filter(horse__barn=livery)
    assert owners.values("client").distinct().count() >= 6
    shares = Horse.objects.get(name="Cinder").ownerships.on(TODAY)
    assert sorted(row.share for row in shares) == [40, 60]
    assert User.objects.farriers().count() == 2

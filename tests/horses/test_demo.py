"""Where the demo does not load."""

from datetime import date

import pytest

from horses import demo
from horses.models import Horse
from practice import demo as people
from practice.errors import Refused
from tests import factories

TODAY = date(2026, 11, 25)


def test_the_demo_never_mixes_with_a_real_practice(db):
    factories.make_practice(name="Real Forge")
    with pytest.raises(Refused, match="Real Forge"):
        people.load(today=TODAY)
    demo.load(today=TODAY)
    assert not Horse.objects.exists()

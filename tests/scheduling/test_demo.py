"""Where the demo's rounds do not load."""

from datetime import date

from scheduling import demo
from scheduling.models import Round
from tests import factories

TODAY = date(2026, 3, 24)


def test_a_practice_that_is_no_demo_gets_no_demo_rounds(practice, farrier):
    factories.make_horse()
    demo.load(today=TODAY)
    assert not Round.objects.exists()

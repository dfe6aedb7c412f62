"""Entering a horse and changing what is known of it."""

from datetime import date, timedelta
from decimal import Decimal
from uuid import UUID

import pytest

from horses.models import DueWindow, Horse
from horses.selectors.ownership import owners_on
from horses.services.register import change_horse, create_horse
from practice.errors import Refused
from practice.models import Change
from tests import factories

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 2)
KEY = UUID("0190c0de-0000-7000-8000-000000000001")


@pytest.fixture
def bramble(farrier):
    return create_horse(name="Bramble", by=farrier, today=TODAY)


def test_a_new_horse_without_a_visit_is_due_today_and_says_so(bramble):
    window = DueWindow.objects.get(horse=bramble)
    assert window.target == TODAY
    assert window.basis == DueWindow.Basis.NO_VISIT


def test_a_new_horse_has_its_owners_from_the_day_named(farrier):
    anne, bert = factories.make_client(), factories.make_client()
    horse = create_horse(
        name="Bramble",
        owners={anne: Decimal(60), bert: Decimal(40)},
        owners_from=date(2025, 1, 1),
        by=farrier,
        today=TODAY,
    )
    assert [row.share for row in owners_on(horse, date(2025, 1, 1))] == [60, 40]


def test_shares_that_do_not_add_up_enter_no_horse(farrier):
    with pytest.raises(Refused):
        create_horse(
            name="Bramble",
            owners={factories.make_client(): Decimal(60)},
            by=farrier,
            today=TODAY,
        )
    assert not Horse.objects.exists()


def test_the_same_key_makes_one_horse(farrier):
    first = create_horse(name="Bramble", key=KEY, by=farrier, today=TODAY)
    again = create_horse(name="Bramble", key=KEY, by=farrier, today=TODAY)
    assert again == first
    assert Horse.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("name", "  "),
        ("sex", "cow"),
        ("interval_weeks", 0),
        ("interval_weeks", 53),
        ("agreed_price", Decimal("-0.01")),
        ("mass_kg", 5),
        ("height_mm", 150),
        ("foaled_year", 1900),
        ("foaled_year", 2027),
        ("foaled_on", TODAY + timedelta(days=1)),
        ("ueln", "826"),
        ("microchip", "12"),
        ("status", "lost"),
    ],
)
def test_what_breaks_a_rule_is_refused_at_its_field(farrier, field, value):
    with pytest.raises(Refused) as refusal:
        create_horse(**{"name": "Bramble", field: value}, by=farrier, today=TODAY)
    assert refusal.value.field == field
    assert not Horse.objects.exists()


def test_the_day_of_foaling_gives_the_year(farrier):
    horse = create_horse(
        name="B", foaled_on=date(2015, 5, 1), foaled_year=None, by=farrier, today=TODAY
    )
    assert horse.foaled_year == 2015
    with pytest.raises(Refused, match="2015"):
        change_horse(horse=horse, foaled_year=2014, by=farrier, today=TODAY)


def test_two_horses_do_not_carry_one_chip(bramble, farrier):
    chip = "826098100111917"
    change_horse(horse=bramble, microchip=chip, by=farrier, today=TODAY)
    with pytest.raises(Refused, match="Bramble is entered with this number"):
        create_horse(name="Other", microchip=chip, by=farrier, today=TODAY)


def test_a_no_show_is_no_usual_work(bramble, farrier):
    work = factories.make_work(kind="no_show")
    with pytest.raises(Refused) as refusal:
        change_horse(horse=bramble, usual_work=work, by=farrier, today=TODAY)
    assert refusal.value.field == "usual_work"


def test_a_changed_interval_moves_the_due_window(bramble, farrier):
    factories.make_visit(
        horses=[bramble], farrier=farrier, closed=True, day=date(2026, 2, 2), barn=None
    )
    change_horse(horse=bramble, interval_weeks=5, by=farrier, today=TODAY)
    window = DueWindow.objects.get(horse=bramble)
    assert window.target == date(2026, 3, 9)
    assert window.basis == DueWindow.Basis.SET_INTERVAL


@pytest.mark.parametrize("status", ["sold", "dead", "moved", "resting"])
def test_a_horse_that_is_gone_is_not_due_and_one_brought_back_is(
    bramble, farrier, status
):
    change_horse(horse=bramble, status=status, by=farrier, today=TODAY)
    assert not DueWindow.objects.filter(horse=bramble).exists()
    change_horse(horse=bramble, status="active", by=farrier, today=TODAY)
    assert DueWindow.objects.filter(horse=bramble).exists()


def test_a_change_keeps_what_was_and_names_only_what_changed(bramble, farrier):
    barn = factories.make_barn()
    change_horse(
        horse=bramble,
        name="Bramble",
        barn=barn,
        cautions="kicks",
        by=farrier,
        today=TODAY,
    )
    note = Change.objects.get(action="change horse")
    assert note.before == {"barn": None, "cautions": ""}
    assert note.after == {"barn": barn.pk, "cautions": "kicks"}
    assert note.by == farrier


def test_saying_the_same_again_leaves_no_trace(bramble, farrier):
    change_horse(horse=bramble, name=" Bramble ", by=farrier, today=TODAY)
    assert not Change.objects.filter(action="change horse").exists()

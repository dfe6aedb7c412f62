"""What templates say in the house's way."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django import forms
from django.template import Context, Template
from django.test import RequestFactory
from django.utils import timezone

from practice.models import Practice, User
from practice.templatetags import house

S = "\u00a0"


@pytest.mark.parametrize(
    ("amount", "currency", "shown"),
    [
        (Decimal("1234.5"), "GBP", "£1,234.50"),
        (Decimal("-8"), "GBP", "−£8.00"),
        (Decimal("0"), "USD", "$0.00"),
        (Decimal("90"), "SEK", f"SEK{S}90.00"),
        (Decimal("1200"), "JPY", f"JPY{S}1,200"),
        (Decimal("1.2345"), "KWD", f"KWD{S}1.235"),
        (None, "GBP", "–"),
    ],
)
def test_an_amount_is_shown_with_its_currency(amount, currency, shown):
    assert house.money(amount, currency) == shown


def test_an_amount_takes_the_currency_of_what_it_is_given():
    assert house.money(Decimal("2"), Practice(currency="EUR")) == "€2.00"


def test_a_length_is_shown_in_the_unit_of_the_practice():
    assert house.length(Decimal("83.0"), Practice(length_unit="mm")) == f"83{S}mm"
    assert house.length(83, Practice(length_unit="cm")) == f"8.3{S}cm"
    assert house.length(82.55, Practice(length_unit="in")) == f"3{S}1/4{S}in"
    assert house.length(None, Practice()) == "–"


def test_masses_and_roads_follow_the_practice_too():
    assert house.mass(362, Practice(mass_unit="kg")) == f"362{S}g"
    assert house.mass(362, Practice(mass_unit="lb")) == f"12.8{S}oz"
    assert house.body_mass(520, Practice(mass_unit="lb")) == f"1,146{S}lb"
    assert house.km(12400, Practice(road_unit="km")) == f"12.4{S}km"
    assert house.km(12400, Practice(road_unit="mi")) == f"7.7{S}mi"


@pytest.mark.parametrize(
    ("count", "shown"),
    [(0, f"0{S}min"), (45, f"45{S}min"), (60, f"1{S}h"), (80, f"1{S}h{S}20"),
     (125, f"2{S}h{S}05"), (None, "–")],
)  # fmt: skip
def test_minutes_are_shown_in_hours(count, shown):
    assert house.minutes(count) == shown


def test_days_are_shown_the_same_everywhere():
    assert house.day(date(2026, 3, 3)) == f"Tue{S}3{S}Mar{S}2026"
    assert house.short_day(date(2026, 3, 3)) == f"Tue{S}3{S}Mar"
    assert house.day(None) == "–"


def test_a_moment_is_told_in_the_time_of_the_practice():
    late = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)
    with timezone.override("Europe/London"):
        assert house.moment(late) == f"Thu{S}2{S}Jul{S}2026, 00:30"
        assert house.day(late) == f"Thu{S}2{S}Jul{S}2026"


def test_a_share_drops_its_noughts():
    assert house.percent(Decimal("60.0000")) == f"60{S}%"
    assert house.percent(Decimal("33.3333")) == f"33.3333{S}%"


def test_feet_have_names():
    assert [house.foot_name(foot) for foot in ("LF", "RF", "LH", "RH")] == [
        "Left fore",
        "Right fore",
        "Left hind",
        "Right hind",
    ]


def test_a_page_that_does_not_exist_has_no_address():
    assert house.maybe_url("practice:no_such_page") == ""


class _Form(forms.Form):
    name = forms.CharField(help_text="As the owner says it.")
    toe = forms.DecimalField(required=False)
    work = forms.ChoiceField(
        choices=[("trim", "trim"), ("reset", "reset")], widget=forms.RadioSelect
    )


def _shown(form, call):
    return Template("{% load house %}" + call).render(Context({"form": form}))


def test_a_field_with_an_error_says_so_to_a_screen_reader():
    form = _Form({"name": "", "work": "trim"})
    shown = _shown(form, "{% field form.name %}")
    assert 'aria-invalid="true"' in shown
    assert 'aria-describedby="id_name_hint id_name_error"' in shown
    assert 'id="id_name_error"' in shown
    assert 'id="id_name_hint"' in shown


def test_a_stepper_keeps_what_was_typed_and_starts_from_last_time():
    form = _Form({"name": "x", "toe": "3 1/4 in", "work": "trim"})
    shown = _shown(form, '{% field form.toe step=0.5 last="84" unit="mm" %}')
    assert 'value="3 1/4 in"' in shown
    assert 'data-step-by="0.5"' in shown
    assert 'data-step-from="84"' in shown
    assert 'id="id_toe_last">84<' in shown


def test_chips_mark_the_chosen_one_alone():
    shown = _shown(_Form({"name": "x", "work": "reset"}), "{% field form.work %}")
    assert shown.count(" checked") == 1
    assert 'value="reset" id="id_work_1" checked' in shown


class _Left(forms.Form):
    usual = forms.ChoiceField(
        required=False, choices=[("", "as usual"), ("x", "another")]
    )
    barn = forms.ChoiceField(required=False, choices=[("", "---------"), ("b", "B")])
    way = forms.ChoiceField(
        required=False, choices=[("", "as usual")], widget=forms.RadioSelect
    )
    note = forms.CharField(required=False)


@pytest.mark.parametrize(
    ("name", "said"), [("usual", 0), ("barn", 1), ("way", 0), ("note", 1)]
)
def test_only_what_may_stay_empty_is_if_any(name, said):
    assert _shown(_Left(), f"{{% field form.{name} %}}").count("if any") == said


def test_what_people_typed_is_escaped():
    shown = _shown(_Form({"name": '"><b>x'}), "{% field form.name %}")
    assert "<b>" not in shown


@pytest.mark.parametrize(
    ("role", "runs", "seen", "unseen"),
    [
        ("farrier", True, {"Today", "Invoices", "Practice"}, {"My horses"}),
        ("farrier", False, {"Today", "Invoices"}, {"Practice", "Users"}),
        ("apprentice", False, {"Today", "Horses"}, {"Invoices", "Practice"}),
        ("owner", False, {"My horses", "Invoices"}, {"Today", "Clients"}),
        ("barn_contact", False, {"Visits"}, {"Today", "Invoices", "Horses"}),
    ],
)
def test_each_role_has_its_own_ways(monkeypatch, role, runs, seen, unseen):
    monkeypatch.setattr(house, "maybe_url", lambda name: f"/{name}/")
    request = RequestFactory().get("/scheduling:due/more/")
    request.user = User(role=role, runs_practice=runs)
    found = house.ways({"request": request})
    words = {way.word for way in found["daily"] + found["other"]}
    assert seen <= words
    assert not unseen & words
    assert found["bar"] + found["rest"] == found["daily"] + found["other"]
    assert len(found["bar"]) <= 4
    here = {way.word for way in found["daily"] if way.here}
    assert here == ({"Due"} if "Today" in seen else set())


def test_a_stranger_has_no_ways():
    request = RequestFactory().get("/")
    assert house.ways({"request": request}) == {}

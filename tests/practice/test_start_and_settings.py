import pytest
from django.test import Client as Browser

from practice.countries import COUNTRIES
from practice.forms.practice import SECTIONS
from practice.models import Barn, Change, Practice, User
from tests import factories


def _start(**over):
    usual = dict.fromkeys(
        ["time_zone", "length_unit", "mass_unit", "road_unit", "prices_include_tax"],
        "usual",
    )
    return {
        "name": "Thistle Forge",
        "country": "GB",
        "farrier_name": "Isla Smith",
        "farrier_email": "isla@example.org",
        "farrier_password": "anvil rasp and nail",
        **usual,
        **over,
    }


def test_a_practice_is_started_in_an_empty_house(db):
    browser = Browser()
    answer = browser.post("/start/", _start(home="55.617 N 2.807 W"))
    assert answer["Location"] == "/start/next/"
    practice = Practice.objects.the_one()
    assert (practice.currency, practice.road_unit) == ("GBP", "mi")
    assert float(practice.home_latitude) == 55.617
    assert (practice.email, practice.is_demo) == ("isla@example.org", False)
    farrier = User.objects.get()
    assert farrier.runs_practice
    assert browser.session["_auth_user_id"] == str(farrier.pk)
    page = browser.get("/start/next/").content.decode()
    assert "Thistle Forge is open" in page


def test_what_was_chosen_stands_before_what_is_usual(db):
    form = _start(
        country="US",
        currency="cad",
        length_unit="mm",
        time_zone="America/Denver",
        prices_include_tax="yes",
        tax_registered="on",
    )
    assert Browser().post("/start/", form).status_code == 302
    practice = Practice.objects.the_one()
    assert (practice.currency, practice.length_unit) == ("CAD", "mm")
    assert (practice.time_zone, practice.mass_unit) == ("America/Denver", "lb")
    assert practice.prices_include_tax is True
    assert practice.tax_registered is True


def test_another_country_is_started_by_its_letters(db):
    form = _start(country="ZZ", other_country="za", currency="ZAR")
    assert Browser().post("/start/", form).status_code == 302
    practice = Practice.objects.the_one()
    assert (practice.country, practice.currency) == ("ZA", "ZAR")
    assert practice.tax_regime == "none"


def test_errors_keep_what_was_typed(db):
    form = _start(
        country="ZZ", home="nowhere", farrier_password="short", town="Melrose"
    )
    answer = Browser().post("/start/", form)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "letters, such as ZA" in page
    assert 'value="nowhere"' in page
    assert 'value="Melrose"' in page
    assert "too short" in page
    assert not Practice.objects.exists()
    assert not User.objects.exists()


@pytest.mark.parametrize(
    ("languages", "country"),
    [
        ("en-IE,en;q=0.9", "IE"),
        ("de-AT, de;q=0.8, en-US;q=0.5", "AT"),
        ("en,en-NZ;q=0.5", "NZ"),
        ("tlh", "GB"),
        ("", "GB"),
    ],
)
def test_the_country_is_guessed_from_the_browser(db, languages, country):
    page = Browser().get("/start/", headers={"Accept-Language": languages})
    shown = page.content.decode()
    assert f'<option value="{country}" selected>{COUNTRIES[country].name}' in shown


def test_the_start_is_shut_once_there_is_a_practice(practice):
    browser = Browser()
    assert browser.get("/start/")["Location"] == "/"
    answer = browser.post("/start/", _start())
    assert answer["Location"] == "/"
    assert not User.objects.exists()


def test_a_real_practice_offers_no_leaving_of_the_demo(as_farrier):
    assert as_farrier.get("/start/own/")["Location"] == "/settings/"
    assert as_farrier.post("/start/own/", _start(sure="on")).status_code == 302
    assert Practice.objects.the_one().name == "Test Forge"
    assert "start_own" not in as_farrier.get("/settings/").content.decode()


@pytest.fixture
def demo(practice):
    practice.is_demo = True
    practice.save(update_fields=["is_demo"])
    factories.make_barn(name="Demo Barn")
    return practice


def test_the_demo_is_left_behind_only_when_that_is_said(demo, as_farrier):
    assert "/start/own/" in as_farrier.get("/settings/").content.decode()
    answer = as_farrier.post("/start/own/", _start())
    assert answer.status_code == 422
    assert "Tick this if the demo" in answer.content.decode()
    assert Barn.objects.exists()


def test_leaving_the_demo_signs_the_new_farrier_in(demo, as_farrier, farrier):
    answer = as_farrier.post("/start/own/", _start(sure="on"))
    assert answer["Location"] == "/start/next/"
    page = as_farrier.get("/start/next/")
    assert page.status_code == 200
    assert "Thistle Forge is open" in page.content.decode()
    assert User.objects.get().email == "isla@example.org"
    assert not Barn.objects.exists()


def test_only_who_runs_it_may_leave_the_demo(request, demo):
    for who in ("second_farrier", "apprentice", "office", "owner", "barn_contact"):
        browser = request.getfixturevalue(f"as_{who}")
        assert browser.get("/start/own/").status_code == 403
        assert browser.post("/start/own/", _start(sure="on")).status_code == 403
    assert Practice.objects.get().is_demo


def test_only_who_runs_it_sees_the_settings(request):
    for who in ("second_farrier", "apprentice", "office", "owner", "barn_contact"):
        browser = request.getfixturevalue(f"as_{who}")
        for path in ("/settings/", "/settings/tax/", "/start/next/"):
            assert browser.get(path).status_code == 403
        assert browser.post("/settings/name/", {"name": "Mine"}).status_code == 403


@pytest.mark.parametrize("section", sorted(SECTIONS))
def test_a_section_saved_as_it_is_changes_nothing(as_farrier, practice, section):
    practice.refresh_from_db()
    path = f"/settings/{section}/"
    form = as_farrier.get(path).context["form"]
    shown = {}
    for bound in form:
        value = bound.value()
        if value not in (None, "", False):
            shown[bound.html_name] = "on" if value is True else value
    assert as_farrier.post(path, shown)["Location"] == "/settings/"
    assert not Change.objects.exists()


def test_a_section_that_is_not_there(as_farrier):
    assert as_farrier.get("/settings/horses/").status_code == 404


@pytest.mark.parametrize(
    ("section", "typed", "said"),
    [
        ("name", {"name": "", "country": "GB"}, "required"),
        ("name", {"name": "X", "country": "G1"}, "Two letters"),
        ("home", {"home": "95, 0"}, "outside −90 to 90"),
        ("tax", {"tax_regime": "narnia"}, "two letters, or"),
        ("bank", {"payment_days": "14", "iban": "GB82WEST12345698765423"}, "check dig"),
        ("bank", {"payment_days": "14", "bic": "ABC"}, "8 or 11"),
        ("work", {"default_interval_weeks": "53"}, "less than or equal to 52"),
    ],
)
def test_settings_that_will_not_do_are_told_and_kept(as_farrier, section, typed, said):
    answer = as_farrier.post(f"/settings/{section}/", typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    for value in typed.values():
        assert not value or f'value="{value}"' in page
    assert not Change.objects.exists()


def test_settings_are_saved(as_farrier, practice):
    form = {"payment_days": "30", "iban": "gb82 west 1234 5698 7654 32"}
    as_farrier.post("/settings/bank/", form)
    as_farrier.post("/settings/tax/", {"tax_regime": "ie"})
    as_farrier.post("/settings/home/", {"home": ""})
    practice.refresh_from_db()
    assert practice.iban == "GB82WEST12345698765432"
    assert (practice.payment_days, practice.tax_regime) == (30, "IE")
    assert practice.home_latitude is None
    page = as_farrier.get("/settings/").content.decode()
    assert "no position yet" in page

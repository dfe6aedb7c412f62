"""Proposals by country, checked against the IANA time zone tables (zone.tab and
zone1970.tab of the tzdata package, public domain), CLDR 47's measurement systems
(measurementData.json, Unicode licence: GB is 'UK', US is 'US', the rest 'metric'),
and the date formats that Django ships for these locales."""

from importlib.resources import files
from zoneinfo import ZoneInfo

import pytest
from django.utils.formats import get_format_modules
from django.utils.translation import override

from practice.countries import COUNTRIES, CURRENCIES, ELSEWHERE, proposals, town_line

ASKED = [
    "GB",
    "IE",
    "DE",
    "FR",
    "NL",
    "BE",
    "AT",
    "ES",
    "IT",
    "CH",
    "US",
    "CA",
    "AU",
    "NZ",
    "SE",
    "NO",
    "DK",
]
LOCALES = {
    "GB": "en-gb",
    "IE": "en-ie",
    "DE": "de",
    "FR": "fr",
    "NL": "nl",
    "AT": "de",
    "ES": "es",
    "IT": "it",
    "CH": "de-ch",
    "US": "en",
    "CA": "en-ca",
    "AU": "en-au",
    "SE": "sv",
    "NO": "nb",
    "DK": "da",
}


def _zones_by_country() -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    text = (files("tzdata") / "zoneinfo" / "zone.tab").read_text(encoding="utf-8")
    for line in text.splitlines():
        if not line.startswith("#"):
            code, _, zone, *_ = line.split("\t")
            found.setdefault(code, set()).add(zone)
    return found


def test_the_asked_countries_are_known():
    assert sorted(COUNTRIES) == sorted(ASKED)


@pytest.mark.parametrize("code", ASKED)
def test_a_zone_lies_in_its_country(code):
    zone = COUNTRIES[code].time_zone
    assert ZoneInfo(zone)
    assert zone in _zones_by_country()[code]


@pytest.mark.parametrize("code", ASKED)
def test_units_are_those_of_the_countrys_measurement_system(code):
    system = {"GB": "UK", "US": "US"}.get(code, "metric")
    units = {
        "UK": ("mm", "kg", "mi"),
        "US": ("in", "lb", "mi"),
        "metric": ("mm", "kg", "km"),
    }
    row = COUNTRIES[code]
    assert (row.length_unit, row.mass_unit, row.road_unit) == units[system]


@pytest.mark.parametrize("code", sorted(LOCALES))
def test_days_are_written_in_the_locales_order(code):
    with override(LOCALES[code]):
        formats = get_format_modules(lang=LOCALES[code])
        listed = formats[0].DATE_INPUT_FORMATS
    # Django puts ISO first or not by locale; the way it is written on paper is the
    # first that does not begin with the year, but where that is how it is written.
    by_hand = [one for one in listed if not one.startswith("%Y")]
    first = listed[0] if code in {"CA", "SE"} else by_hand[0]
    order = "".join(sign.lower() for sign in first if sign.lower() in "dmy")
    assert COUNTRIES[code].date_order == order


def test_the_euro_is_proposed_where_it_is_the_currency():
    euro = {code for code, row in COUNTRIES.items() if row.currency == "EUR"}
    assert euro == {"IE", "DE", "FR", "NL", "BE", "AT", "ES", "IT"}


def test_the_other_currencies_begin_with_their_countrys_code():
    # ISO 4217: the first two letters are those of ISO 3166-1.
    for code, row in COUNTRIES.items():
        if row.currency != "EUR":
            assert row.currency.startswith(code)
    assert set(CURRENCIES) == {row.currency for row in COUNTRIES.values()}


def test_an_unknown_country_gets_the_neutral_proposals():
    assert proposals("ZA") is ELSEWHERE
    assert proposals("") is ELSEWHERE
    assert (ELSEWHERE.length_unit, ELSEWHERE.tax_regime) == ("mm", "none")
    assert proposals(" gb ") is COUNTRIES["GB"]


def test_town_and_code_stand_in_the_countrys_order():
    assert town_line("Melrose", "TD6 0ZZ", "GB") == "Melrose TD6 0ZZ"
    assert town_line("Zürich", "8001", "CH") == "8001 Zürich"
    assert town_line("Melrose", "", "GB") == "Melrose"

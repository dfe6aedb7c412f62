from decimal import Decimal
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.db import IntegrityError

from horses.models import Work
from practice.errors import Refused
from practice.forms.practice import SECTIONS, iban_is_sound
from practice.keys import uuid7
from practice.models import Change, Practice, User
from practice.services import practice as service
from practice.services.clients import add_client
from tests import factories

ME = {
    "farrier_name": "Isla Smith",
    "farrier_email": "Isla@Example.org",
    "farrier_password": "a long enough password",
}


def test_a_practice_gets_what_its_country_proposes(db):
    practice = service.create_practice(name=" Own Forge ", country="us")
    practice.refresh_from_db()
    assert (practice.name, practice.country) == ("Own Forge", "US")
    assert (practice.currency, practice.length_unit) == ("USD", "in")
    assert (practice.mass_unit, practice.road_unit) == ("lb", "mi")
    assert (practice.tax_regime, practice.prices_include_tax) == ("US", False)
    assert Change.objects.get().action == "opened"


def test_what_is_said_stands_before_what_is_proposed(db):
    practice = service.create_practice(
        name="Own", country="GB", currency="EUR", road_unit="km"
    )
    assert (practice.currency, practice.road_unit) == ("EUR", "km")
    assert practice.length_unit == "mm"


def test_there_is_one_practice(practice):
    with pytest.raises(Refused, match="a practice already"):
        service.create_practice(name="Second", country="GB")
    assert Practice.objects.count() == 1


def test_a_practice_has_a_name(db):
    with pytest.raises(Refused) as refused:
        service.create_practice(name="  ", country="GB")
    assert refused.value.field == "name"


def test_a_field_that_is_not_the_practices_is_a_fault_of_the_program(practice):
    with pytest.raises(TypeError):
        service.change_practice(by=None, is_demo=True)


def test_a_change_is_noted_with_what_was(practice, farrier):
    service.change_practice(
        by=farrier, name="New Forge", home_latitude=Decimal("55.700000"), town="Xx"
    )
    change = Change.objects.get(action="changed")
    assert change.by == farrier
    assert change.before == {
        "name": "Test Forge",
        "home_latitude": "55.617000",
        "town": "Testbridge",
    }
    assert change.after["home_latitude"] == "55.700000"


def test_nothing_changed_is_nothing_noted(practice, farrier):
    service.change_practice(by=farrier, name="Test Forge")
    assert not Change.objects.exists()


def test_the_first_farrier_runs_the_practice(db):
    farrier = service.open_practice(name="Own", country="IE", **ME)
    assert (farrier.role, farrier.runs_practice) == ("farrier", True)
    assert farrier.email == "isla@example.org"
    assert farrier.check_password("a long enough password")
    assert Practice.objects.the_one().currency == "EUR"


def test_a_real_practice_is_never_erased(practice, farrier):
    with pytest.raises(Refused, match="real one"):
        service.start_own_practice(name="Own", country="GB", **ME)
    assert Practice.objects.the_one().name == "Test Forge"
    assert User.objects.filter(pk=farrier.pk).exists()


def test_the_demo_is_left_behind_whole(db):
    factories.make_practice(is_demo=True)
    factories.make_user("farrier", runs_practice=True, email="isla@example.org")
    barn = factories.make_barn(area=factories.make_area())
    contact = factories.make_user("barn_contact")
    factories.make_barn_contact(barn=barn, user=contact)
    factories.make_horse(owner=factories.make_owner().client, barn=barn)
    add_client(by=None, name="Morag", key=uuid7())
    work = factories.make_work(name="Demo work", minutes=99)
    farrier = service.start_own_practice(name="Own", country="DE", **ME)
    practice = Practice.objects.the_one()
    assert (practice.name, practice.is_demo, practice.currency) == ("Own", False, "EUR")
    assert list(User.objects.all()) == [farrier]
    for model in _models_of_the_house():
        if model.__name__ not in {"Practice", "User", "Change", "Work"}:
            assert not model._default_manager.exists(), model
    assert not Work.objects.filter(name=work.name).exists()
    assert set(Change.objects.values_list("action", flat=True)) == {"opened", "added"}


def test_the_demos_photos_are_gone_from_the_folder_once_it_is_left(
    db, settings, django_capture_on_commit_callbacks
):
    factories.make_practice(is_demo=True)
    farrier = factories.make_user("farrier", runs_practice=True)
    visit = factories.make_visit(horses=[factories.make_horse()], farrier=farrier)
    kept = Path(settings.MEDIA_ROOT) / "photos"
    kept.mkdir(parents=True)
    for name in ("one.jpg", "one.small.jpg"):
        (kept / name).write_bytes(b"picture")
    visit.records.get().photos.create(path="photos/one.jpg", width_px=10, height_px=10)
    with django_capture_on_commit_callbacks(execute=True):
        service.start_own_practice(name="Own", country="GB", **ME)
    assert list(kept.iterdir()) == []


def test_a_practice_begins_with_the_usual_kinds_of_work(db):
    service.open_practice(name="Own", country="GB", **ME)
    assert Work.objects.filter(kind="no_show").exists()
    assert Work.objects.filter(kind="new_shoes", minutes__gt=0).exists()


def test_a_failed_start_leaves_the_demo_as_it_was(db, monkeypatch):
    factories.make_practice(is_demo=True, name="Demo")
    barn = factories.make_barn()

    def fails(**_):
        raise IntegrityError("for this test")

    monkeypatch.setattr(service, "open_practice", fails)
    with pytest.raises(IntegrityError):
        service.start_own_practice(name="Own", country="DE", **ME)
    assert Practice.objects.the_one().name == "Demo"
    barn.refresh_from_db()


def _models_of_the_house():
    for app in settings.HOUSE_APPS:
        yield from apps.get_app_config(app).get_models()


@pytest.mark.django_db(transaction=True)
def test_of_four_who_open_at_once_one_does(at_once):
    def open_one():
        service.open_practice(name="Own", country="GB", **ME)

    assert at_once(4, open_one) == 1
    assert User.objects.count() == 1


@pytest.mark.parametrize(
    ("iban", "sound"),
    [
        # Examples that the IBAN registry (ISO 13616) prints, from memory.
        ("GB82WEST12345698765432", True),
        ("DE89370400440532013000", True),
        ("FR1420041010050500013M02606", True),
        ("GB82WEST12345698765423", False),
        ("GB28WEST12345698765432", False),
        ("GB82", False),
        ("8282WEST12345698765432", False),
    ],
)
def test_the_check_digits_of_an_iban(iban, sound):
    assert iban_is_sound(iban) is sound


def test_each_settings_field_is_one_of_the_practices():
    for form in SECTIONS.values():
        for name in form.base_fields:
            assert name == "home" or Practice._meta.get_field(name)

"""``manage.py demo``: all four apps, in one command."""

import time
from io import StringIO

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.test import Client

from practice import demo
from practice.models import Practice, User
from practice.services.practice import start_own_practice
from tests import factories
from tests.yardstick import yardstick_s

pytestmark = pytest.mark.slow
HOUSE = ("practice", "horses", "scheduling", "billing")


def _counts() -> dict[str, int]:
    return {
        model._meta.label: model._default_manager.count()
        for app in HOUSE
        for model in apps.get_app_config(app).get_models()
    }


def _load(**options: str) -> str:
    said = StringIO()
    call_command("demo", stdout=said, stderr=StringIO(), **options)
    return said.getvalue()


@pytest.mark.parametrize("which", demo.SETS)
def test_the_demo_fills_every_app_once_and_lets_people_in(db, which):
    measure, began = yardstick_s(), time.process_time()
    said = _load(set=which)
    assert (time.process_time() - began) / measure < 400  # 20 s on a quiet core
    counts = _counts()
    for model in (
        "horses.VisitRecord",
        "scheduling.Round",
        "scheduling.Booking",
        "scheduling.WorkingDay",
        "billing.ChargeItem",
        "billing.Invoice",
        "billing.Payment",
    ):
        assert counts[model] > 0, model
    assert _load(set=which) == said
    assert _counts() == counts

    assert demo.PASSWORD in said
    for user in User.objects.all():
        assert user.email in said
        if user.role != User.Role.OWNER:
            assert Client().login(username=user.email, password=demo.PASSWORD)
        else:
            assert not user.has_usable_password()


def test_it_refuses_to_mix_with_another_practice(db):
    factories.make_practice(name="Real Forge")
    with pytest.raises(CommandError, match="Real Forge") as refusal:
        _load()
    assert refusal.value.returncode == 2
    assert not User.objects.exists()


def test_leaving_the_demo_leaves_nothing_of_it(db):
    _load()
    start_own_practice(
        name="Own Forge",
        country="GB",
        farrier_name="Ann Own",
        farrier_email="ann@example.org",
        farrier_password="a long enough password",
    )
    assert not Practice.objects.the_one().is_demo
    assert [user.name for user in User.objects.all()] == ["Ann Own"]
    left = {label: count for label, count in _counts().items() if count}
    allowed = {
        "practice.Practice",
        "practice.User",
        "practice.Change",
        "horses.Work",
        "billing.ChargeItem",
        "billing.TaxRate",
    }
    assert set(left) <= allowed, left

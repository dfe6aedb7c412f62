"""``manage.py demo``: all four apps, in one command."""

import time
from io import StringIO

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command

from practice import demo
from practice.models import User
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


def _load() -> str:
    said = StringIO()
    call_command("demo", stdout=said, stderr=StringIO())
    return said.getvalue()


def test_the_command_fills_every_app_once_and_says_who_gets_in(db):
    """On either database. What it fills them with: tests/test_demo.py."""
    measure, began = yardstick_s(), time.process_time()
    said = _load()
    assert (time.process_time() - began) / measure < 400  # 20 s on a quiet core
    counts = _counts()
    for model in ("horses.VisitRecord", "scheduling.Booking", "billing.Payment"):
        assert counts[model] > 0, model
    assert _load() == said
    assert _counts() == counts
    assert demo.PASSWORD in said
    for user in User.objects.all():
        assert user.email in said


def test_it_refuses_to_mix_with_another_practice(db):
    factories.make_practice(name="Real Forge")
    with pytest.raises(CommandError, match="Real Forge") as refusal:
        _load()
    assert refusal.value.returncode == 2
    assert not User.objects.exists()

"""The demo's money, and that leaving the demo behind takes it along."""

from datetime import date

import pytest

import billing.demo
import horses.demo
import practice.demo
from billing.demo.rules import ROWS
from billing.models import ChargeItem, Invoice, Payment, Sequence, TaxRate
from billing.services import renditions
from practice.models import Message, User

TODAY = date(2026, 11, 25)


@pytest.mark.slow
@pytest.mark.parametrize("which", practice.demo.SETS)
def test_the_demo_has_money_and_can_be_left_behind(
    db, which, django_capture_on_commit_callbacks
):
    practice.demo.load(today=TODAY, which=which)
    horses.demo.load(today=TODAY)
    for _ in range(2):
        billing.demo.load(today=TODAY)
    states = set(Invoice.objects.values_list("kind", "state"))
    assert states == {("380", "issued"), ("380", "draft"), ("381", "issued")}
    assert not ChargeItem.objects.filter(price__isnull=True).exists()
    assert Payment.objects.exists()
    assert Invoice.objects.overdue(TODAY).exists()
    assert not Message.objects.filter(kind__in=["invoice", "render_invoice"]).exists()
    for owner in User.objects.filter(role=User.Role.OWNER):
        assert Invoice.objects.visible_to(owner).exists(), owner.email
    numbers = Invoice.objects.issued().filter(kind="380").order_by("number")
    wanted = [f"INV-{n:05}" for n in range(1, numbers.count() + 1)]
    assert list(numbers.values_list("number", flat=True)) == wanted

    rendition = renditions.render(invoice=numbers[0])
    with django_capture_on_commit_callbacks(execute=True):
        billing.demo.erase()
    assert not renditions.path_of(rendition.sha256).exists()
    for model in (Invoice, Payment, ChargeItem, TaxRate, Sequence, *ROWS):
        assert not model.objects.exists()

"""The demo of the whole house: both sets, each loaded once for all tests of this module.

It loads twice alike, holds the house's invariants, and is left without a trace.
"""

from datetime import date, timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.conf import settings
from django.db import transaction
from django.db.models import Sum
from django.test import Client as Browser

from billing.demo.rules import ROWS
from billing.models import ChargeItem, Invoice, Payment, Sequence, TaxRate
from billing.services import renditions
from horses.findings import KINDS
from horses.models import (
    DueWindow,
    Finding,
    FootPlan,
    FootRecord,
    Horse,
    Ownership,
    Visit,
)
from practice import demo as people
from practice.models import Barn, Client, Message, Practice, User
from practice.services.practice import start_own_practice
from scheduling.models import Booking, Round, UsualDay
from scheduling.selectors.due import due_horses

pytestmark = [pytest.mark.slow, pytest.mark.once]
TODAY = date(2026, 11, 25)


def _load(which: str) -> None:
    people.load(today=TODAY, which=which)
    for app in settings.HOUSE_APPS[1:]:
        import_module(f"{app}.demo").load(today=TODAY)


@pytest.fixture(scope="module", params=people.SETS)
def shown(request, django_db_setup, django_db_blocker):
    """A set is loaded once for all; each test runs within, and is rolled back."""
    with django_db_blocker.unblock(), transaction.atomic():
        _load(request.param)
        with django_db_blocker.block():
            yield request.param
        transaction.set_rollback(True)


@pytest.fixture
def loaded(shown, db):
    return shown


def _counts() -> dict[str, int]:
    return {
        model._meta.label: model._default_manager.count()
        for app in settings.HOUSE_APPS
        for model in apps.get_app_config(app).get_models()
    }


def test_loading_again_changes_nothing(loaded):
    before, bookings = _counts(), set(Booking.objects.values_list("pk", "starts_at"))
    _load(loaded)
    assert _counts() == before
    assert set(Booking.objects.values_list("pk", "starts_at")) == bookings


def test_every_app_has_something_and_the_staff_are_let_in(loaded):
    counts = _counts()
    for model in (
        *("horses.VisitRecord", "scheduling.Round", "scheduling.Booking"),
        *("scheduling.WorkingDay", "billing.ChargeItem", "billing.Invoice"),
        "billing.Payment",
    ):
        assert counts[model] > 0, model
    for user in User.objects.all():
        if user.role != User.Role.OWNER:
            assert Browser().login(username=user.email, password=people.PASSWORD)
        else:
            assert not user.has_usable_password()


def test_shares_add_up_on_every_day(loaded):
    for horse in Horse.objects.all():
        starts = horse.ownerships.earliest("starts").starts
        for back in (0, 100, 300, 319, 320, 321, 400, 730, (TODAY - starts).days):
            on = TODAY - timedelta(days=back)
            total = horse.ownerships.on(on).aggregate(all=Sum("share"))["all"]
            assert total == 100, (horse, on)


def test_visits_are_closed_weekdays_of_the_past(loaded):
    assert Visit.objects.count() > 100
    for visit in Visit.objects.prefetch_related("records"):
        assert visit.is_closed
        assert visit.day < TODAY
        assert visit.day.isoweekday() <= 5
        assert visit.records.all()


def test_no_horse_is_seen_twice_on_a_day_nor_before_it_was_owned(loaded):
    for horse in Horse.objects.all():
        days = list(horse.records.values_list("visit__day", flat=True))
        assert len(days) == len(set(days))
        assert all(day >= horse.ownerships.earliest("starts").starts for day in days)


def test_feet_are_plausible_and_validate(loaded):
    for foot in FootRecord.objects.all()[:300]:
        foot.full_clean(validate_constraints=False)  # these were kept by the database
        assert 60 < foot.dorsal_length_mm < 125
        assert foot.trimmed_length_mm < foot.dorsal_length_mm
        assert 45 < foot.dorsal_angle_deg < 62


def test_findings_use_the_words_of_the_vocabulary(loaded):
    assert Finding.objects.exists()
    for finding in Finding.objects.all():
        kind = KINDS[finding.kind]
        assert finding.place in kind.places
        assert kind.scale is None or kind.scale.has(finding.grade)


def test_some_horses_are_overdue_some_due_some_not(loaded):
    targets = DueWindow.objects.values_list("target", flat=True)
    assert any(target < TODAY - timedelta(days=5) for target in targets)
    assert any(0 <= (target - TODAY).days <= 14 for target in targets)
    assert any(target > TODAY + timedelta(days=20) for target in targets)


def test_every_address_and_number_is_one_kept_for_fiction(loaded):
    emails = [*Client.objects.values_list("email", flat=True)]
    emails += User.objects.values_list("email", flat=True)
    emails.append(Practice.objects.the_one().email)
    assert all(email.endswith("@example.org") for email in emails)
    phones = [*Client.objects.values_list("phone", flat=True)]
    phones += Barn.objects.exclude(phone="").values_list("phone", flat=True)
    kept = ("07700 900", "01632 960", "802-555-01")
    assert all(phone.startswith(kept) for phone in phones)


def test_the_first_set_has_what_the_pages_want_to_show(loaded):
    if loaded != "whinbrae":
        assert Horse.objects.exists()
        return
    assert 60 <= Horse.objects.count() <= 80
    assert Barn.objects.filter(latitude=None).count() == 1
    livery = Barn.objects.get(name="Cauldrigg Livery")
    owners = Ownership.objects.on(TODAY).filter(horse__barn=livery)
    assert owners.values("client").distinct().count() >= 6
    shares = Horse.objects.get(name="Cinder").ownerships.on(TODAY)
    assert sorted(row.share for row in shares) == [40, 60]
    assert User.objects.farriers().count() == 2


def test_two_horses_with_a_story_have_plans_of_all_four_feet(loaded):
    """The cob's hind heels come to the sound line, plan by plan."""
    if loaded != "whinbrae":
        assert not FootPlan.objects.exists()
        return
    standing = FootPlan.objects.filter(state="accepted")
    assert standing.count() == 8
    assert FootPlan.objects.count() == 24
    cob = FootPlan.objects.filter(horse__breed="Cob", foot="RH").order_by("day")
    edges = [plan.result["edge_from_sound_line_mm"]["lateral_heel"] for plan in cob]
    assert edges == sorted(edges, reverse=True)
    assert [plan.flags for plan in standing] == [[]] * 8


def test_a_foot_with_an_accepted_plan_was_shod_on_that_day(loaded):
    for plan in FootPlan.objects.filter(record__isnull=False):
        foot = FootRecord.objects.get(record=plan.record, foot=plan.foot)
        assert foot.work != FootRecord.Work.TRIM, (plan.horse.name, plan.foot, plan.day)


def test_windows_come_about_in_each_way(loaded):
    """By growth, by set weeks; in the first set also from use alone and by a vet, and
    one slip of the keys is found."""
    bases = set(DueWindow.objects.values_list("basis", flat=True))
    assert {"growth", "set_interval"} <= bases
    if loaded != "whinbrae":
        return
    assert {"use", "vet", "no_visit"} <= bases
    by_name = {one.horse.name: one for one in DueWindow.objects.select_related("horse")}
    assert by_name["Catkin"].basis == "use"
    assert by_name["Wee Bother"].basis == "vet"
    assert by_name["Second Wind"].questionable == 1
    found = DueWindow.objects.filter(questionable__gt=0)
    assert found.count() <= 2  # what is sound is left alone


def test_there_is_a_round_today_some_ahead_and_horses_left_due(loaded):
    days = {one.day for one in Round.objects.all()}
    assert TODAY in days
    assert loaded != "whinbrae" or max(days) > TODAY  # the other set is the smaller one
    assert not any(one.breaks_a_rule for one in Round.objects.filter(day=TODAY))
    due = due_horses(viewer=User.objects.farriers().first(), today=TODAY)
    assert due.count() >= (10 if loaded == "whinbrae" else 1)


def test_the_books_have_money_without_a_mail_and_numbers_without_a_gap(loaded):
    states = set(Invoice.objects.values_list("kind", "state"))
    assert states == {("380", "issued"), ("380", "draft"), ("381", "issued")}
    assert not ChargeItem.objects.filter(price__isnull=True).exists()
    assert Invoice.objects.overdue(TODAY).exists()
    assert not Message.objects.filter(kind__in=["invoice", "render_invoice"]).exists()
    for owner in User.objects.filter(role=User.Role.OWNER):
        assert Invoice.objects.visible_to(owner).exists(), owner.email
    numbers = Invoice.objects.issued().filter(kind="380").order_by("number")
    wanted = [f"INV-{n:05}" for n in range(1, numbers.count() + 1)]
    assert list(numbers.values_list("number", flat=True)) == wanted


def test_leaving_the_demo_leaves_nothing_of_it(
    loaded, django_capture_on_commit_callbacks
):
    first = Invoice.objects.issued().filter(kind="380").order_by("number")[0]
    rendition = renditions.render(invoice=first)
    assert renditions.path_of(rendition.sha256).exists()
    with django_capture_on_commit_callbacks(execute=True):
        start_own_practice(
            name="Own Forge",
            country="GB",
            farrier_name="Ann Own",
            farrier_email="ann@example.org",
            farrier_password="a long enough password",
        )
    assert not renditions.path_of(rendition.sha256).exists()
    assert not Practice.objects.the_one().is_demo
    assert [user.name for user in User.objects.all()] == ["Ann Own"]
    allowed = {
        *("practice.Practice", "practice.User", "practice.Change", "horses.Work"),
        *("billing.ChargeItem", "billing.TaxRate"),
    }
    left = {label: count for label, count in _counts().items() if count}
    assert set(left) <= allowed, left


def test_each_app_takes_its_own_demo_away(loaded):
    for app in reversed(settings.HOUSE_APPS):
        import_module(f"{app}.demo").erase()
        left = {
            label: count
            for label, count in _counts().items()
            if count and label.startswith(f"{app}.") and label != "practice.Change"
        }
        assert left == {}
    for model in (Invoice, Payment, TaxRate, Sequence, *ROWS, Booking, UsualDay):
        assert not model.objects.exists()

"""What owners and barn contacts see, and what they don't."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from horses.models import Horse, VisitRecord
from horses.services.horses import refresh_due_window
from horses.services.ownership import set_owners
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def bramble(practice, owner):
    return factories.make_horse(
        name="Bramble",
        owner=owner.client,
        cautions="kicks behind",
        notes="slow payer",
        agreed_price=Decimal("85.00"),
        use_note="",
    )


def text_of(answer):
    assert answer.status_code == 200
    return answer.content.decode()


def page_of(horse):
    return reverse("horses:my_horse", args=[horse.pk])


def visited(horse, farrier, *, days_ago, note="", closed=True):
    day = timezone.localdate() - timedelta(days=days_ago)
    visit = factories.make_visit(
        horses=[horse], farrier=farrier, closed=closed, day=day
    )
    VisitRecord.objects.filter(visit=visit).update(note=note, is_recorded=True)
    refresh_due_window(horse=horse, today=timezone.localdate())
    return visit


def test_an_owner_sees_the_own_horse_and_no_other(as_owner, bramble, other_owner):
    factories.make_horse(name="Thistle", owner=other_owner.client)
    shown = text_of(as_owner.get("/my/"))
    assert "Bramble" in shown
    assert "Thistle" not in shown


def test_another_owner_s_horse_is_not_there(as_other_owner, bramble):
    assert as_other_owner.get(page_of(bramble)).status_code == 404


def test_what_the_practice_keeps_to_itself_is_not_shown(as_owner, bramble, farrier):
    visited(bramble, farrier, days_ago=14)
    shown = text_of(as_owner.get(page_of(bramble)))
    for word in ("kicks behind", "slow payer", "85.00"):
        assert word not in shown


@pytest.mark.parametrize(
    ("days_ago", "words"),
    [
        (14, "Due between"),
        (38, "Due now, by"),
        (90, "The next visit was due by"),
    ],
)
def test_the_next_visit_is_a_plain_sentence(
    as_owner, bramble, farrier, days_ago, words
):
    visited(bramble, farrier, days_ago=days_ago)
    assert words in text_of(as_owner.get("/my/"))
    assert words in text_of(as_owner.get(page_of(bramble)))


def test_without_a_visit_the_first_one_is_to_be_agreed(as_owner, bramble):
    assert "No visit yet" in text_of(as_owner.get("/my/"))


def test_each_page_of_an_owner_says_when_to_call_the_vet(as_owner, bramble):
    for path in ("/my/", page_of(bramble)):
        assert "call your vet at once" in text_of(as_owner.get(path))


def test_an_owner_reads_what_was_done_once_the_visit_is_closed(
    as_owner, bramble, farrier
):
    visited(bramble, farrier, days_ago=60, note="grew well this summer")
    visited(bramble, farrier, days_ago=1, note="still being written", closed=False)
    shown = text_of(as_owner.get(page_of(bramble)))
    assert "grew well this summer" in shown
    assert "still being written" not in shown


def test_a_past_owner_sees_the_history_up_to_the_last_day_and_nothing_of_today(
    as_owner, bramble, farrier
):
    visited(bramble, farrier, days_ago=60, note="before the sale")
    sold = timezone.localdate() - timedelta(days=30)
    buyer = factories.make_client()
    set_owners(horse=bramble, shares={buyer: Decimal(100)}, starts=sold, by=farrier)
    visited(bramble, farrier, days_ago=10, note="after the sale")
    shown = text_of(as_owner.get(page_of(bramble)))
    assert "before the sale" in shown
    assert "after the sale" not in shown
    assert "was yours until" in shown
    assert "Next visit" not in shown
    assert bramble.barn.name not in shown.split("What was done")[0]
    mine = text_of(as_owner.get("/my/"))
    assert "Horses of yours before" in mine
    assert "Due" not in mine


def test_a_new_owner_reads_the_history_from_before_too(
    as_other_owner, other_owner, bramble, farrier
):
    visited(bramble, farrier, days_ago=60, note="before the sale")
    today = timezone.localdate()
    set_owners(
        horse=bramble, shares={other_owner.client: Decimal(100)}, starts=today, by=None
    )
    assert "before the sale" in text_of(as_other_owner.get(page_of(bramble)))


def test_who_will_own_a_horse_sees_nothing_of_it_before_that_day(
    as_other_owner, other_owner, bramble, farrier
):
    visit = visited(bramble, farrier, days_ago=60, note="before the sale")
    starts = timezone.localdate() + timedelta(days=1)
    buyer = other_owner.client
    set_owners(horse=bramble, shares={buyer: Decimal(100)}, starts=starts, by=None)
    record = VisitRecord.objects.get(visit=visit)
    assert "Bramble" not in text_of(as_other_owner.get("/my/"))
    assert as_other_owner.get(page_of(bramble)).status_code == 404
    for path in (f"/records/{record.pk}/report.pdf", f"/api/v1/records/{record.pk}/"):
        assert as_other_owner.get(path).status_code == 404
    for model in (Horse, VisitRecord):
        assert not model.objects.visible_to(other_owner).exists()
        assert model.objects.visible_to(other_owner, day=starts).exists()


def test_a_co_owner_is_told_the_share(as_owner, bramble, owner, other_owner):
    set_owners(
        horse=bramble,
        shares={owner.client: Decimal(60), other_owner.client: Decimal(40)},
        starts=timezone.localdate(),
        by=None,
    )
    assert "You own 60\u00a0%" in text_of(as_owner.get("/my/"))


def test_a_horse_that_is_gone_has_no_next_visit(as_owner, bramble):
    Horse.objects.filter(pk=bramble.pk).update(status=Horse.Status.DEAD)
    refresh_due_window(horse=bramble, today=timezone.localdate())
    assert "Due" not in text_of(as_owner.get("/my/"))


def test_an_owner_s_page_asks_the_same_number_of_queries_however_many(
    as_owner, owner, grows_flat
):
    grows_flat(as_owner, "/my/", lambda: factories.make_horse(owner=owner.client))


def test_a_barn_contact_sees_visits_but_no_health_and_no_money(
    as_barn_contact, barn_contact, bramble, farrier
):
    factories.make_barn_contact(barn=bramble.barn, user=barn_contact)
    visited(bramble, farrier, days_ago=3, note="thrush in the left fore")
    elsewhere = factories.make_horse(name="Thistle")
    visited(elsewhere, farrier, days_ago=2)
    shown = text_of(as_barn_contact.get("/barn-visits/"))
    assert "Bramble" in shown
    assert farrier.name in shown
    for word in ("thrush", "Thistle", "85.00", "kicks"):
        assert word not in shown


def test_a_barn_contact_s_list_asks_the_same_number_of_queries_however_many(
    as_barn_contact, barn_contact, farrier, grows_flat
):
    barn = factories.make_barn()
    factories.make_barn_contact(barn=barn, user=barn_contact)

    def make():
        visited(factories.make_horse(barn=barn), farrier, days_ago=3)

    grows_flat(as_barn_contact, "/barn-visits/", make)


@pytest.mark.parametrize("path", ["/my/", "/barn-visits/"])
def test_staff_have_pages_of_their_own(as_farrier, practice, path):
    assert as_farrier.get(path).status_code == 403


def test_the_last_visits_are_shown_and_the_earlier_ones_asked_for(
    as_owner, bramble, farrier
):
    for week in range(1, 6):
        visited(bramble, farrier, days_ago=7 * week, note=f"note of week {week}")
    shown = text_of(as_owner.get(page_of(bramble)))
    assert "note of week 3" in shown
    assert "note of week 4" not in shown
    everything = text_of(as_owner.get(f"{page_of(bramble)}?visits=all"))
    assert "note of week 5" in everything
    assert "Earlier visits" not in everything

"""May this viewer enter? Which rows exist for this viewer?"""

from datetime import date, timedelta

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import Http404

from horses.models import Horse, Visit, VisitRecord
from practice import access
from practice.models import Barn, Client, User
from tests import factories

ROLES = ["farrier", "second_farrier", "apprentice", "office", "owner", "barn_contact"]


@pytest.mark.parametrize(
    ("roles", "let_in"),
    [
        (access.STAFF, {"farrier", "second_farrier", "apprentice", "office"}),
        (access.TREATS, {"farrier", "second_farrier", "apprentice"}),
        (access.BOOKS, {"farrier", "second_farrier", "office"}),
        (access.FARRIER, {"farrier", "second_farrier"}),
        (access.HEAD, {"farrier"}),
        (access.OWNER, {"owner"}),
        (access.BARN_CONTACT, {"barn_contact"}),
        (access.SIGNED_IN, set(ROLES)),
        (access.PUBLIC, set(ROLES)),
    ],
)
def test_a_door_lets_in_its_roles_and_nobody_else(request, practice, roles, let_in):
    for role in ROLES:
        viewer = request.getfixturevalue(role)
        assert access.may_enter(viewer, roles) is (role in let_in), role
    assert access.may_enter(AnonymousUser(), roles) is (roles == access.PUBLIC)


def test_someone_who_has_left_enters_nowhere(farrier):
    farrier.is_active = False
    assert not access.may_enter(farrier, access.STAFF)
    assert not Horse.objects.visible_to(farrier).exists()


def test_what_is_not_there_and_what_is_not_yours_answer_alike(owner, other_owner):
    horse = factories.make_horse(owner=owner.client)
    mine = Horse.objects.visible_to(owner)
    assert access.get(mine, pk=horse.pk) == horse
    for rows, pk in [
        (Horse.objects.visible_to(other_owner), horse.pk),
        (mine, 999_999),
        (mine, "no number"),
    ]:
        with pytest.raises(Http404):
            access.get(rows, pk=pk)


def test_rows_of_the_house_are_not_for_owners(owner, other_owner):
    barn = factories.make_barn()
    assert list(Client.objects.visible_to(owner)) == [owner.client]
    assert not Barn.objects.visible_to(owner).exists()
    assert list(User.objects.visible_to(owner)) == [owner]
    assert barn in Barn.objects.visible_to(factories.make_user("office"))


def test_a_barn_contact_sees_the_own_barns_visits_and_no_records(barn_contact, farrier):
    here, there = factories.make_horse(), factories.make_horse()
    factories.make_barn_contact(barn=here.barn, user=barn_contact)
    visit = factories.make_visit(horses=[here], farrier=farrier, closed=True)
    factories.make_visit(horses=[there], farrier=farrier, closed=True)
    assert list(Visit.objects.visible_to(barn_contact)) == [visit]
    assert list(Barn.objects.visible_to(barn_contact)) == [here.barn]
    assert not VisitRecord.objects.visible_to(barn_contact).exists()
    assert not Horse.objects.visible_to(barn_contact).exists()


def test_an_owner_reads_closed_records_up_to_the_last_day_of_ownership(
    owner, other_owner, farrier
):
    sold_on = date(2026, 3, 1)
    horse = factories.make_horse(shares={})
    factories.make_ownership(horse=horse, client=owner.client, ends=sold_on)
    factories.make_ownership(
        horse=horse, client=other_owner.client, starts=sold_on + timedelta(days=1)
    )

    def visit(day, closed=True):
        made = factories.make_visit(
            horses=[horse], farrier=farrier, closed=closed, day=day
        )
        return made.records.get()

    before, on_the_day = visit(date(2026, 1, 5)), visit(sold_on)
    after = visit(date(2026, 4, 5))
    visit(date(2026, 2, 5), closed=False)
    assert set(VisitRecord.objects.visible_to(owner)) == {before, on_the_day}
    assert set(VisitRecord.objects.visible_to(other_owner)) == {
        before,
        on_the_day,
        after,
    }, "the new owner reads the earlier history of treatment"

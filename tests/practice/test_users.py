import pytest
from django.test import Client as Browser

from practice import outbox
from practice.errors import Refused
from practice.models import BarnContact, Change, Message, SignInLink, User
from practice.services import users as service
from practice.services.sign_in import send_link
from tests import factories

PASSWORD = "a long enough password"


def _form(**over):
    return {
        "name": "Dorothy Office",
        "email": "dorothy@example.org",
        "role": "office",
        **over,
    }


def test_a_user_is_added_invited_and_noted(farrier):
    user = service.add_user(
        email=" New@Example.org ", name="New", role="apprentice", by=farrier
    )
    assert user.email == "new@example.org"
    assert not user.has_usable_password()
    assert Message.objects.get().to == "new@example.org"
    assert list(Change.objects.values_list("action", flat=True)) == ["invited", "added"]


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"role": "owner"}, "client"),
        ({"role": "office", "runs_practice": True}, "runs_practice"),
        ({"role": "barn_contact"}, "barns"),
        ({"role": "office", "email": "AILSA@example.org"}, "email"),
    ],
)
def test_what_a_role_lacks_is_said(practice, fields, field):
    factories.make_user("farrier", email="ailsa@example.org")
    with pytest.raises(Refused) as refused:
        service.add_user(
            **{"email": "new@example.org", "name": "New", "by": None, **fields}
        )
    assert refused.value.field == field
    assert User.objects.count() == 1


def test_a_barn_contact_has_barns(farrier):
    one, two = factories.make_barn(), factories.make_barn()
    user = service.add_user(
        email="new@example.org", name="N", role="barn_contact", by=farrier, barns=[one]
    )
    service.set_barns(user=user, barns=[two], by=farrier)
    assert BarnContact.objects.get(user=user).barn == two
    service.change_user(user=user, by=farrier, role="office")
    assert not BarnContact.objects.exists()


def test_someone_always_runs_the_practice(farrier, second_farrier):
    with pytest.raises(Refused, match="only one who runs"):
        service.change_user(user=farrier, by=farrier, runs_practice=False)
    with pytest.raises(Refused, match="only one who runs"):
        service.set_active(user=farrier, active=False, by=second_farrier)
    service.change_user(user=second_farrier, by=farrier, runs_practice=True)
    service.change_user(user=farrier, by=farrier, runs_practice=False)
    assert User.objects.get(runs_practice=True) == second_farrier


def test_nobody_keeps_oneself_out(farrier, second_farrier):
    service.change_user(user=second_farrier, by=farrier, runs_practice=True)
    with pytest.raises(Refused, match="keep yourself out"):
        service.set_active(user=farrier, active=False, by=farrier)


def test_who_is_kept_out_is_out_at_once(farrier, office, as_office):
    send_link(user=office)
    assert as_office.get("/clients/").status_code == 200
    service.set_active(user=office, active=False, by=farrier)
    assert as_office.get("/clients/").status_code == 302
    assert not SignInLink.objects.filter(used_at=None).exists()
    with pytest.raises(Refused):
        service.invite_user(user=office, by=farrier)
    service.set_active(user=office, active=True, by=farrier)
    service.invite_user(user=office, by=farrier)


def test_a_user_is_added_by_the_form(as_farrier):
    answer = as_farrier.post("/users/add/", _form())
    assert answer["Location"] == "/users/"
    user = User.objects.get(email="dorothy@example.org")
    assert user.role == "office"
    page = as_farrier.get("/users/").content.decode()
    assert "An invitation goes to dorothy@example.org" in page


def test_errors_keep_what_was_typed(as_farrier, office):
    answer = as_farrier.post("/users/add/", _form(email=office.email, phone="01632"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "signs in Dorothy Office already" in page
    assert 'value="01632"' in page
    no_barn = as_farrier.post("/users/add/", _form(role="barn_contact"))
    assert "needs at least one barn" in no_barn.content.decode()
    assert not User.objects.filter(email="dorothy@example.org").exists()


def test_a_user_is_changed_by_the_form(as_farrier, office):
    barn = factories.make_barn()
    form = _form(role="barn_contact", barns=[barn.pk], name="Dorothy B")
    as_farrier.post(f"/users/{office.pk}/", form)
    office.refresh_from_db()
    assert (office.name, office.role) == ("Dorothy B", "barn_contact")
    assert office.barn_duties.get().barn == barn


def test_a_refused_change_of_barns_changes_nothing(as_farrier, office):
    answer = as_farrier.post(f"/users/{office.pk}/", _form(role="barn_contact"))
    assert answer.status_code == 422
    office.refresh_from_db()
    assert office.role == "office"


def test_an_owners_user_keeps_role_and_client(as_farrier, owner):
    page = as_farrier.get(f"/users/{owner.pk}/").content.decode()
    assert 'name="role"' not in page
    form = {"name": "Elspeth O", "email": "elspeth@example.org", "phone": ""}
    as_farrier.post(f"/users/{owner.pk}/", {**form, "role": "farrier"})
    owner.refresh_from_db()
    assert (owner.name, owner.role) == ("Elspeth O", "owner")


def test_keeping_out_by_the_page(as_farrier, farrier, office):
    as_farrier.post(f"/users/{office.pk}/active/")
    office.refresh_from_db()
    assert not office.is_active
    page = as_farrier.post(f"/users/{farrier.pk}/active/", follow=True)
    assert "keep yourself out" in page.content.decode()
    as_farrier.post(f"/users/{office.pk}/active/", {"active": "yes"})
    as_farrier.post(f"/users/{office.pk}/invite/")
    assert Message.objects.get().to == office.email


def test_the_list_asks_the_same_number_of_queries(as_farrier, grows_flat):
    assert grows_flat(as_farrier, "/users/", factories.make_owner) <= 6


def test_only_who_runs_the_practice_sees_its_users(request):
    office = request.getfixturevalue("office")
    paths = ["/users/", "/users/add/", f"/users/{office.pk}/"]
    for who in ("second_farrier", "apprentice", "office", "owner", "barn_contact"):
        browser = request.getfixturevalue(f"as_{who}")
        for path in paths:
            assert browser.get(path).status_code == 403
        assert browser.post(f"/users/{office.pk}/active/").status_code == 403
        assert browser.post(f"/users/{office.pk}/invite/").status_code == 403


def test_one_changes_ones_own_name(as_owner, owner):
    as_owner.post("/account/", {"what": "about", "name": "Elspeth O", "phone": "1"})
    owner.refresh_from_db()
    assert (owner.name, owner.phone) == ("Elspeth O", "1")


def test_one_changes_ones_own_password_and_stays_signed_in(as_office, office):
    form = {"what": "password", "old": PASSWORD, "new": "quite another password"}
    assert as_office.post("/account/", form).status_code == 302
    office.refresh_from_db()
    assert office.check_password("quite another password")
    assert as_office.get("/account/").status_code == 200


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("wrong", "quite another password", "not the password so far"),
        (PASSWORD, "short", "too short"),
        (PASSWORD, "password123", "too common"),
    ],
)
def test_a_password_that_will_not_do(as_office, office, old, new, said):
    form = {"what": "password", "old": old, "new": new}
    answer = as_office.post("/account/", form)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    office.refresh_from_db()
    assert office.check_password(PASSWORD)


def test_who_came_by_a_link_needs_no_old_password(owner, mailoutbox):
    send_link(user=owner)
    outbox.drain()
    path = mailoutbox[-1].body.split("localhost:8000")[1].split()[0]
    browser = Browser()
    browser.post(path)
    answer = browser.post("/account/", {"what": "password", "new": "a new long one"})
    assert answer.status_code == 302
    owner.refresh_from_db()
    assert owner.check_password("a new long one")


def test_a_barn_contact_is_added_from_the_barns_page(as_farrier):
    barn = factories.make_barn()
    path = f"/users/add/?barn={barn.pk}"
    assert path in as_farrier.get(f"/barns/{barn.pk}/").content.decode()
    page = as_farrier.get(path).content.decode()
    assert f'value="{barn.pk}" selected' in page
    assert 'value="barn_contact" id="id_role_3" checked' in page

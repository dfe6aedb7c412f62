import pytest

from practice.errors import Refused
from practice.keys import uuid7
from practice.models import Change, Client, MadeOnce, Message, User
from practice.services import clients as service
from practice.services.once import made_once
from tests import factories


def _form(**over):
    return {
        "key": str(uuid7()),
        "name": "Morag Testperson",
        "kind": "person",
        "phone": "07700 900101",
        "email": "morag@example.org",
        **over,
    }


def test_a_client_is_added_and_noted(practice, office):
    client = service.add_client(
        by=office, name="  Morag   Testperson ", notes="a\r\n\r\nb"
    )
    assert client.name == "Morag Testperson"
    assert client.notes == "a\n\nb"
    assert (client.phone, client.email) == ("", "")
    change = Change.objects.get()
    assert (change.by, change.action) == (office, "added")


def test_the_same_key_adds_one_client(practice, office):
    key = uuid7()
    one = service.add_client(by=office, name="Morag", key=key)
    same = service.add_client(by=office, name="Morag", key=key)
    assert one.pk == same.pk
    assert Client.objects.count() == 1


def test_the_same_key_with_other_values_is_refused_and_says_what_stands(
    practice, office
):
    key = uuid7()
    service.add_client(by=office, name="Morag", phone="07700 900001", key=key)
    with pytest.raises(Refused, match="saved before, with other values, as “Morag”"):
        service.add_client(by=office, name="Morag", phone="07700 900002", key=key)
    assert Client.objects.get().phone == "07700 900001"


@pytest.mark.django_db(transaction=True)
def test_the_same_key_at_once_adds_one_client(at_once):
    factories.make_practice()
    key = uuid7()
    done = at_once(6, lambda: service.add_client(by=None, name="Morag", key=key))
    assert done == 6
    assert Client.objects.count() == 1


def test_a_key_serves_one_kind_of_thing(practice):
    key = uuid7()
    service.add_client(by=None, name="Morag", key=key)
    with pytest.raises(Refused):
        made_once(
            key=key,
            model=User,
            said={},
            make=lambda: factories.make_user("office"),
        )


def test_a_key_is_free_again_when_making_was_refused(practice):
    key = uuid7()
    with pytest.raises(Refused):
        service.add_client(by=None, name=" ", key=key)
    assert not MadeOnce.objects.exists()
    service.add_client(by=None, name="Morag", key=key)


def test_what_was_made_and_is_gone_is_not_made_again(practice):
    key = uuid7()
    service.add_client(by=None, name="Morag", key=key).delete()
    with pytest.raises(Refused, match="is gone"):
        service.add_client(by=None, name="Morag", key=key)


@pytest.mark.parametrize(
    ("email", "phone"),
    [
        ("MORAG@example.org", ""),
        ("", "07700900101"),
        ("", "+44 7700 900 101"),
        ("", "0044 7700 900101"),
    ],
)
def test_the_same_email_or_phone_however_written_is_a_double(practice, email, phone):
    other = factories.make_client(phone="07700 900101", email="morag@example.org")
    factories.make_client(phone="07700 910101", email="")
    assert service.likes(email=email, phone=phone) == [other]
    with pytest.raises(service.Doubled) as refused:
        service.add_client(by=None, name="M", email=email, phone=phone)
    assert refused.value.clients == [other]
    service.add_client(by=None, name="M", email=email, phone=phone, sure=True)


def test_another_phone_is_no_double(practice):
    factories.make_client(phone="07700 900101", email="")
    factories.make_client(phone="nonsense", email="")
    assert service.likes(email="", phone="01632 960101") == []
    assert service.likes(email="", phone="ask at the barn") == []


def test_a_change_that_touches_neither_is_not_asked_about_doubles(practice, office):
    one = factories.make_client(email="both@example.org", phone="")
    factories.make_client(email="both@example.org", phone="")
    service.change_client(client=one, by=office, town="Kelso")
    change = Change.objects.get()
    assert change.before == {"town": "Testbridge"}
    assert change.after == {"town": "Kelso"}
    third = factories.make_client()
    with pytest.raises(service.Doubled):
        service.change_client(client=third, by=office, email="both@example.org")


def test_nothing_changed_is_nothing_noted(practice, office):
    client = factories.make_client()
    service.change_client(client=client, by=office, name=client.name)
    assert not Change.objects.exists()


def test_a_client_put_aside_leaves_the_list_and_comes_back(as_office):
    client = factories.make_client(name="Morag")
    as_office.post(f"/clients/{client.pk}/aside/")
    assert "Morag" not in as_office.get("/clients/").content.decode()
    assert "Morag" in as_office.get("/clients/?aside=on").content.decode()
    as_office.post(f"/clients/{client.pk}/aside/", {"active": "yes"})
    assert "Morag" in as_office.get("/clients/").content.decode()


def test_clients_are_searched_by_any_word(as_farrier):
    factories.make_client(name="Morag Testperson", town="Melrose")
    factories.make_client(name="Kelso Livery", town="Kelso")
    page = as_farrier.get("/clients/?q=melrose morag").content.decode()
    assert "Morag Testperson" in page
    assert "Kelso Livery" not in page
    nobody = as_farrier.get("/clients/?q=zz").content.decode()
    assert "Nobody like that" in nobody


def test_long_lists_come_in_pages_that_keep_the_search(as_farrier):
    for n in range(60):
        factories.make_client(name=f"Morag {n:02}")
    page = as_farrier.get("/clients/?q=morag").content.decode()
    assert "1–50 of 60" in page
    assert "?q=morag&amp;page=2" in page
    assert "Morag 59" in as_farrier.get("/clients/?q=morag&page=2").content.decode()


def test_the_list_asks_the_same_number_of_queries(as_farrier, grows_flat):
    assert grows_flat(as_farrier, "/clients/", factories.make_client) <= 5


def test_a_client_is_added_by_the_form(as_office):
    answer = as_office.post("/clients/add/", _form())
    client = Client.objects.get(name="Morag Testperson")
    assert answer["Location"] == f"/clients/{client.pk}/"
    page = as_office.get(answer["Location"]).content.decode()
    assert 'href="tel:07700900101"' in page
    assert "is added" in page


def test_a_form_sent_twice_adds_one_client(as_office):
    form = _form()
    first = as_office.post("/clients/add/", form)
    second = as_office.post("/clients/add/", form)
    assert first["Location"] == second["Location"]
    assert Client.objects.count() == 1


def test_errors_keep_what_was_typed(as_office):
    answer = as_office.post(
        "/clients/add/", _form(name="", email="no address", town="Melrose")
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="no address"' in page
    assert 'value="Melrose"' in page
    assert page.count('class="error"') == 2
    assert not Client.objects.exists()


def test_a_double_is_shown_with_its_page_and_can_be_saved_all_the_same(as_office):
    other = factories.make_client(name="The Other", phone="07700 900101")
    form = _form(email="")
    answer = as_office.post("/clients/add/", form)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f'href="/clients/{other.pk}/"' in page
    assert 'value="Morag Testperson"' in page
    sure = as_office.post("/clients/add/", {**form, "sure": "on"})
    assert sure.status_code == 302
    assert Client.objects.count() == 2


def test_a_client_is_changed_by_the_form(as_office):
    client = factories.make_client(name="Morag", payment_days=7)
    path = f"/clients/{client.pk}/edit/"
    assert 'value="7"' in as_office.get(path).content.decode()
    as_office.post(path, _form(name="Morag T", payment_days=""))
    client.refresh_from_db()
    assert (client.name, client.payment_days) == ("Morag T", None)


def test_a_client_is_written_to_in_the_own_language_else_the_practice_s(
    as_office, practice
):
    client = factories.make_client()
    assert practice.language_to(client) == "en"
    as_office.post(f"/clients/{client.pk}/edit/", _form(language="de"))
    client.refresh_from_db()
    assert practice.language_to(client) == "de"
    assert "Deutsch" in as_office.get(f"/clients/{client.pk}/").text
    practice.language = "fr-CH"
    assert practice.language_to(None) == "fr"


def test_a_client_is_given_a_way_in(as_office, mailoutbox):
    client = factories.make_client(name="Morag", email="morag@example.org")
    as_office.post(f"/clients/{client.pk}/invite/")
    user = User.objects.get(email="morag@example.org")
    assert (user.role, user.client) == ("owner", client)
    assert not user.has_usable_password()
    mail = Message.objects.get(kind="sign_in_link")
    assert (mail.to, mail.client) == ("morag@example.org", client)
    assert "for seven days" in mail.body
    # Pressed again, the same user gets a new mail.
    as_office.post(f"/clients/{client.pk}/invite/")
    assert client.users.count() == 1
    assert Message.objects.filter(kind="sign_in_link").count() == 2


def test_a_client_whose_address_is_anothers_gets_no_way_in(as_office, farrier):
    client = factories.make_client(email=farrier.email)
    page = as_office.post(f"/clients/{client.pk}/invite/", follow=True)
    assert "signs in Ailsa Farrier already" in page.content.decode()
    assert client.users.count() == 0


@pytest.mark.parametrize(
    ("path", "method", "allowed"),
    [
        ("/clients/", "get", {"farrier", "apprentice", "office"}),
        ("/clients/{pk}/", "get", {"farrier", "apprentice", "office"}),
        ("/clients/add/", "get", {"farrier", "office"}),
        ("/clients/{pk}/edit/", "get", {"farrier", "office"}),
        ("/clients/{pk}/aside/", "post", {"farrier", "office"}),
        ("/clients/{pk}/invite/", "post", {"farrier", "office"}),
    ],
)
def test_which_roles_see_clients(request, path, method, allowed):
    for who in ("farrier", "apprentice", "office", "owner", "barn_contact"):
        browser = request.getfixturevalue(f"as_{who}")
        pk = factories.make_client().pk
        code = getattr(browser, method)(path.format(pk=pk)).status_code
        assert (code in {200, 302}) == (who in allowed), who
        assert code in {200, 302, 403}
    stranger = request.getfixturevalue("as_stranger")
    answer = getattr(stranger, method)(path.format(pk=pk))
    assert answer["Location"].startswith("/sign-in/")


def test_an_owner_does_not_reach_even_the_own_client_page(as_owner, owner):
    assert as_owner.get(f"/clients/{owner.client_id}/").status_code == 403


def test_a_client_page_that_is_not_there(as_farrier):
    assert as_farrier.get("/clients/4711/").status_code == 404

import re
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client as Browser
from django.utils import timezone

from practice import outbox
from practice.errors import Refused
from practice.models import Message, RateSlot, SignInLink, User
from practice.services import rates
from practice.services import sign_in as service
from practice.views.sign_in import place_of
from tests import factories

PASSWORD = "a long enough password"


def _post(browser: Browser, email: str, password: str = "", way: str = "password"):
    return browser.post("/sign-in/", {"email": email, "password": password, "way": way})


def _link_in_mail(mailoutbox: Any) -> str:
    found = re.search(r"http\S+(/sign-in/link/\S+)", mailoutbox[-1].body)
    assert found, mailoutbox[-1].body
    return found[1]


def test_a_farrier_signs_in_by_password(as_stranger: Browser, farrier: User) -> None:
    answer = _post(as_stranger, farrier.email.upper(), PASSWORD)
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert as_stranger.session["_auth_user_id"] == str(farrier.pk)


def test_a_wrong_password_and_an_unknown_address_get_the_same_answer(
    as_stranger: Browser, farrier: User
) -> None:
    wrong = _post(as_stranger, farrier.email, "not the password")
    unknown = _post(as_stranger, "nobody@example.org", "not the password")
    assert wrong.status_code == unknown.status_code == 422
    assert service.WRONG in wrong.content.decode()
    assert service.WRONG in unknown.content.decode()
    assert f'value="{farrier.email}"' in wrong.content.decode()


def test_a_deactivated_user_stays_outside(as_stranger: Browser, farrier: User) -> None:
    farrier.is_active = False
    farrier.save(update_fields=["is_active"])
    assert _post(as_stranger, farrier.email, PASSWORD).status_code == 422


def test_the_sixth_wrong_try_is_not_looked_at(
    as_stranger: Browser, farrier: User, second_farrier: User
) -> None:
    for _ in range(service.TRIES_FOR_ONE):
        assert _post(as_stranger, farrier.email, "wrong").status_code == 422
    right = _post(as_stranger, farrier.email, PASSWORD)
    assert right.status_code == 429
    assert service.TOO_MANY in right.content.decode()
    # Another address from the same place is not shut out by it.
    assert _post(as_stranger, second_farrier.email, PASSWORD).status_code == 302


def test_the_right_password_forgets_the_wrong_tries(
    as_stranger: Browser, farrier: User
) -> None:
    for _ in range(3):
        for _ in range(service.TRIES_FOR_ONE - 1):
            _post(as_stranger, farrier.email, "wrong")
        assert _post(as_stranger, farrier.email, PASSWORD).status_code == 302


def test_one_place_may_not_try_one_address_after_the_other(
    as_stranger: Browser, farrier: User
) -> None:
    for n in range(service.TRIES_FROM_ONE_PLACE):
        _post(as_stranger, f"user{n}@example.com", "wrong")
    right = _post(as_stranger, farrier.email, PASSWORD)
    assert service.TOO_MANY in right.content.decode()


def test_sign_in_leads_on_to_the_page_that_was_asked_for(
    as_stranger: Browser, farrier: User
) -> None:
    asked = as_stranger.get("/account/")
    assert asked["Location"] == "/sign-in/?next=/account/"
    form = {"email": farrier.email, "password": PASSWORD, "way": "password"}
    answer = as_stranger.post("/sign-in/", {**form, "next": "/account/"})
    assert answer["Location"] == "/account/"


@pytest.mark.parametrize("where", ["https://example.org/", "//example.org", "\\x", "x"])
def test_sign_in_leads_to_no_other_house(
    as_stranger: Browser, farrier: User, where: str
) -> None:
    form = {"email": farrier.email, "password": PASSWORD, "way": "password"}
    answer = as_stranger.post("/sign-in/", {**form, "next": where})
    assert answer["Location"] == "/"


def test_an_owner_signs_in_by_a_link(
    as_stranger: Browser, owner: User, mailoutbox: Any
) -> None:
    answer = _post(as_stranger, owner.email, way="link")
    assert answer["Location"] == "/sign-in/sent/"
    assert owner.email in as_stranger.get("/sign-in/sent/").content.decode()
    outbox.drain()
    path = _link_in_mail(mailoutbox)
    assert mailoutbox[-1].to == [owner.email]
    page = as_stranger.get(path)
    assert page.status_code == 200
    assert "no-store" in page["Cache-Control"]
    assert page["Referrer-Policy"] == "same-origin"
    # A mail program that opened the link has not used it up.
    assert as_stranger.get(path).status_code == 200
    assert as_stranger.post(path).status_code == 302
    assert as_stranger.session["_auth_user_id"] == str(owner.pk)


def test_enter_without_a_password_asks_for_the_link(
    as_stranger: Browser, owner: User, mailoutbox: Any
) -> None:
    answer = _post(as_stranger, owner.email)
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/sent/")
    outbox.drain()
    assert as_stranger.post(_link_in_mail(mailoutbox))["Location"] == "/"


def test_a_link_works_once(as_stranger: Browser, owner: User, mailoutbox: Any) -> None:
    service.send_link(user=owner)
    outbox.drain()
    path = _link_in_mail(mailoutbox)
    assert Browser().post(path).status_code == 302
    again = as_stranger.post(path)
    assert again.status_code == 410
    assert "_auth_user_id" not in as_stranger.session
    assert as_stranger.get(path).status_code == 410


def test_a_link_ends_after_twenty_minutes(
    as_stranger: Browser, owner: User, mailoutbox: Any
) -> None:
    link = service.send_link(user=owner)
    outbox.drain()
    assert link.expires_at - timezone.now() <= timedelta(minutes=20)
    SignInLink.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    assert as_stranger.post(_link_in_mail(mailoutbox)).status_code == 410


def test_the_link_takes_the_asked_page_along(
    as_stranger: Browser, owner: User, mailoutbox: Any
) -> None:
    form = {"email": owner.email, "way": "link", "next": "/account/"}
    as_stranger.post("/sign-in/", form)
    outbox.drain()
    path = _link_in_mail(mailoutbox)
    assert path.endswith("?next=/account/")
    page = as_stranger.get(path).content.decode()
    assert 'name="next" value="/account/"' in page
    answer = as_stranger.post(path, {"next": "/account/"})
    assert answer["Location"] == "/account/"


def test_known_and_unknown_addresses_cost_the_same_and_look_the_same(
    as_stranger: Browser, owner: User, django_assert_num_queries: Any
) -> None:
    counts, pages = [], []
    for email in ("first@example.org", owner.email, "nobody@example.org"):
        connection.queries_log.clear()
        connection.force_debug_cursor = True
        answer = _post(as_stranger, email, way="link")
        counts.append(len(connection.queries_log))
        page = as_stranger.get("/sign-in/sent/").content.decode()
        pages.append((answer.status_code, page.replace(email, "")))
    connection.force_debug_cursor = False
    assert counts[1] == counts[2]
    assert pages[1] == pages[2]


def test_an_unknown_address_gets_no_mail(
    as_stranger: Browser, practice: Any, mailoutbox: Any
) -> None:
    _post(as_stranger, "nobody@example.org", way="link")
    outbox.drain()
    assert mailoutbox == []
    assert not Message.objects.exclude(state=Message.State.SENT).exists()


def test_nobody_is_flooded_with_links(
    as_stranger: Browser, owner: User, mailoutbox: Any
) -> None:
    for _ in range(service.LINKS_FOR_ONE):
        assert _post(as_stranger, owner.email, way="link").status_code == 302
    answer = _post(as_stranger, owner.email, way="link")
    assert answer.status_code == 429
    assert service.TOO_MANY in answer.content.decode()
    outbox.drain()
    assert len(mailoutbox) == service.LINKS_FOR_ONE


def test_only_the_digest_of_a_token_is_kept_and_the_mail_is_blanked_when_it_ended(
    owner: User, mailoutbox: Any
) -> None:
    link = service.send_link(user=owner)
    outbox.drain()
    token = _link_in_mail(mailoutbox).rstrip("/").rsplit("/", 1)[1]
    assert len(token) == 43
    assert token not in str(SignInLink.objects.values().get())
    SignInLink.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    service.send_link(user=owner)
    assert Message.objects.get(key=f"sign-in-link-{link.pk}").body == ""
    assert SignInLink.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_many_at_once_one_uses_the_link(mailoutbox: Any, at_once: Any) -> None:
    factories.make_practice()
    owner = factories.make_owner()
    service.send_link(user=owner)
    outbox.drain()
    token = _link_in_mail(mailoutbox).rstrip("/").rsplit("/", 1)[1]
    assert at_once(8, lambda: service.use_link(token=token)) == 1


@pytest.mark.django_db(transaction=True)
def test_the_limit_holds_when_many_try_at_once(at_once: Any) -> None:
    def one_try() -> None:
        if not rates.allow(key="many", limit=3, now=1_000_000.0):
            raise Refused("no")

    assert at_once(8, one_try) == 3


def test_tries_are_counted_by_slots_and_old_slots_are_dropped(db: None) -> None:
    slot = rates.SLOT_SECONDS
    assert rates.allow(key="k", limit=1, now=0)
    assert not rates.allow(key="k", limit=1, now=slot - 1)
    assert rates.allow(key="k", limit=1, now=slot)
    assert rates.allow(key="k", limit=1, now=20 * slot)
    assert RateSlot.objects.count() == 1


@pytest.mark.parametrize(
    ("proxies", "forwarded", "place"),
    [
        (0, "", "192.0.2.1"),
        (0, "198.51.100.7", "192.0.2.1"),
        (1, "198.51.100.7", "198.51.100.7"),
        (1, "203.0.113.9, 198.51.100.7", "198.51.100.7"),
        (2, "203.0.113.9, 198.51.100.7, 10.0.0.1", "198.51.100.7"),
        (2, "198.51.100.7", "192.0.2.1"),
    ],
)
def test_what_a_client_writes_into_forwarded_for_is_not_believed(
    rf: Any, settings: Any, proxies: int, forwarded: str, place: str
) -> None:
    settings.TRUSTED_PROXIES = proxies
    headers = {"X-Forwarded-For": forwarded} if forwarded else {}
    request = rf.get("/", headers=headers, REMOTE_ADDR="192.0.2.1")
    assert place_of(request) == place


def test_signing_out_ends_the_session(as_owner: Browser) -> None:
    assert as_owner.get("/sign-out/").status_code == 405
    assert as_owner.post("/sign-out/")["Location"] == "/sign-in/"
    assert "_auth_user_id" not in as_owner.session


@pytest.mark.parametrize(
    "who",
    ["farrier", "apprentice", "office", "owner", "barn_contact"],
)
def test_the_front_door_leads_each_role_to_its_home(
    request: Any, settings: Any, who: str
) -> None:
    settings.HOME_BY_ROLE = {who: "practice:link_sent"}
    browser = request.getfixturevalue(f"as_{who}")
    assert browser.get("/")["Location"] == "/sign-in/sent/"


def test_the_front_door_of_an_empty_house_leads_to_its_start(db: None) -> None:
    assert Browser().get("/")["Location"] == "/start/"
    assert Browser().get("/sign-in/")["Location"] == "/start/"


def test_the_front_door_asks_strangers_to_sign_in(practice: Any) -> None:
    assert Browser().get("/")["Location"] == "/sign-in/"

"""Every address of the house, as every role: who gets in, who is shown the door.

The expected answers stand in ``tests/doors.py``, written by hand from the table of
roles; this test walks the resolver, so that an address without a line there fails.
"""

from contextlib import nullcontext
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client as Browser
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from practice import access
from tests.doors import ANYONE, NOBODY, ROLES, WAYS, Way
from tests.unrendered import unrendered

# Named in ``WAYS`` before they are there: pieces that other pages include if they are.
TO_COME = {
    "billing:my_account",
    "billing:horse_money",
}


def _addresses() -> dict[str, Any]:
    """Every address's view by its full name."""
    found: dict[str, Any] = {}

    def walk(patterns: list[Any], space: str) -> None:
        for one in patterns:
            if isinstance(one, URLResolver):
                walk(one.url_patterns, one.namespace or space)
            elif isinstance(one, URLPattern):
                assert one.name, f"{one.pattern} of {space} has no name"
                found[f"{space}:{one.name}"] = one.callback

    walk(get_resolver().url_patterns, "")
    return found


ADDRESSES = _addresses()


def is_api(name: str) -> bool:
    return name.partition(":")[2].startswith("api_")


def test_every_address_has_a_line_and_every_line_an_address():
    assert sorted(set(ADDRESSES) - set(WAYS)) == [], "add to WAYS of tests/doors.py"
    assert sorted(set(WAYS) - set(ADDRESSES) - TO_COME) == []


@pytest.mark.parametrize("name", sorted(ADDRESSES))
def test_every_view_has_a_door(name):
    view = ADDRESSES[name]
    if hasattr(view, "cls"):
        permissions = view.cls.permission_classes
        assert permissions, name
        assert access.NobodyYet not in permissions, name
        assert all(hasattr(one, "read") for one in permissions), name
    else:
        assert hasattr(view, "door"), f"{name} has no @access.door(…)"


def test_an_address_that_names_an_object_says_who_sees_it():
    """Where owners or contacts may enter, 'all of them' is never the answer."""
    outsiders = {"owner", "other_owner", "barn_contact", "other_contact"}
    public = {
        *("practice:sign_in_link", "practice:api_reckon"),
        *("scheduling:feed", "scheduling:asked", "scheduling:stop_reminders"),
    }
    for name, one in WAYS.items():
        if one.at and (one.read | one.write) & outsiders and name not in public:
            assert one.sees is not None, name
            assert one.sees != one.read, name


def _answer(browser: Browser, session: str, method: str, path: str, json: bool) -> Any:
    """What this user gets, in a transaction that is undone after it."""
    browser.cookies.clear()
    if session:
        browser.cookies[settings.SESSION_COOKIE_NAME] = session
    more: dict[str, Any] = {"content_type": "application/json"} if json else {}
    if method != "get":
        more["data"] = "{}" if json else {}
    with transaction.atomic():
        response = getattr(browser, method)(path, **more)
        body = response.getvalue() if response.streaming else response.content
        assert isinstance(body, bytes)
        transaction.set_rollback(True)
    return response


def _is_sent_to_sign_in(response: Any) -> bool:
    place = urlsplit(response.headers.get("Location", "")).path
    return response.status_code == 302 and place == reverse("practice:sign_in")


def _judge(name: str, one: Way, role: str, method: str, response: Any) -> str:
    """What is wrong with this answer; nothing if it is as it should be."""
    code = response.status_code
    allowed = one.read if method == "get" else one.write
    if allowed == NOBODY:  # nobody reads (or writes) here: the method is not taken
        return (
            "" if code in {401, 403, 405} or _is_sent_to_sign_in(response) else "open"
        )
    if role not in allowed:
        return _judge_refusal(name, role, response)
    if one.sees is not None and role not in one.sees:
        return "" if code == 404 else "not hidden"
    if code >= 500:
        return "fault"
    if _is_sent_to_sign_in(response) and allowed != ANYONE and role != "stranger":
        # Only who signs out ends there.
        return "" if name == "practice:sign_out" else "sent to sign in"
    return "shut" if code in {401, 403, 404, 405} else ""


def _judge_refusal(name: str, role: str, response: Any) -> str:
    code = response.status_code
    if role != "stranger":
        return "" if code == 403 else "not refused"
    if is_api(name):
        kind = response.headers.get("Content-Type", "")
        told = kind.startswith("application/problem+json")
        return "" if code == 401 and told else "not told to sign in as JSON"
    return "" if _is_sent_to_sign_in(response) else "not sent to sign in"


@pytest.mark.once
@pytest.mark.slow
@pytest.mark.parametrize("role", ROLES)
def test_each_role_opens_its_own_doors_and_no_other(role, the_house):
    values, session = the_house.values, the_house.sessions.get(role, "")
    browser = Browser(raise_request_exception=False)  # one, for its middleware's sake
    faults = []
    # The head's pages are drawn, the others' only opened: it is the door that counts.
    with nullcontext() if role == "head" else unrendered():
        for name, one in WAYS.items():
            if name not in ADDRESSES:
                continue
            path = reverse(name, kwargs={key: values[at] for key, at in one.at.items()})
            for method in ("get", one.method):
                response = _answer(browser, session, method, path, is_api(name))
                wrong = _judge(name, one, role, method, response)
                if wrong:
                    faults.append(f"{method} {name}: {wrong}, {response.status_code}")
    assert faults == []

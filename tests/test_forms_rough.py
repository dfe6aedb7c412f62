"""What people and their browsers send by mistake: every form of every page is sent back
with junk in its fields, and nothing may end in a fault.

Each form takes its turn at a share of the junk, so that all forms together meet all of
it; `python3 manage.py test tests/test_forms_rough.py --deep` tries all on each.
"""

import re
from collections.abc import Iterator
from contextlib import nullcontext
from html import unescape
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client as Browser
from django.urls import reverse

from tests.doors import WAYS
from tests.test_doors import ADDRESSES, is_api
from tests.unrendered import unrendered

JUNK = ("", "-1", "9" * 30, "a\0b", "x" * 6000, "2026-02-30", "\U0001f600 'ä\"<")
MOST_FIELDS, MOST_FIELDS_DEEP = 4, 15
DRAWN = 2
# With how many forms each has at least: in parts, so that two processes share them.
APPS = (("practice", 8), ("horses", 12), ("scheduling", 6), ("billing", 6))
CONTROL = re.compile(r"<(input|select|textarea|button)\b([^>]*)>", re.S)
NAME, VALUE = re.compile(r'\bname="([^"]*)"'), re.compile(r'\bvalue="([^"]*)"')


def _posted(page: str) -> dict[str, str]:
    """The fields of the page's own forms that are sent by POST, as they stand."""
    fields: dict[str, str] = {}
    main = page.partition('id="main"')[2]
    for form in re.findall(r"<form\b[^>]*method=\"post\".*?</form>", main, re.S):
        for _, attributes in CONTROL.findall(form):
            name = NAME.search(attributes)
            if name and name[1] != "csrfmiddlewaretoken":
                value = VALUE.search(attributes)
                fields.setdefault(unescape(name[1]), value[1] if value else "")
    return fields


def _turn(number: int, deep: bool) -> tuple[str, ...]:
    """All junk, or what it is this form's turn to meet."""
    return JUNK if deep else (JUNK[number % len(JUNK)], JUNK[(number + 3) % len(JUNK)])


def _tries(fields: dict[str, str], number: int, deep: bool) -> Iterator[dict[str, str]]:
    """As it stands; junk everywhere; then one field after the other, each with the
    next junk of the row. Of a long form every second or third field, and so on."""
    yield fields
    for junk in _turn(number, deep):
        yield dict.fromkeys(fields, junk)
    step = 1 + len(fields) // (MOST_FIELDS_DEEP if deep else MOST_FIELDS)
    for at, name in enumerate(sorted(fields)[number % step :: step]):
        yield {**fields, name: JUNK[(number + at) % len(JUNK)]}


@pytest.mark.slow
@pytest.mark.parametrize(("app", "least"), APPS)
def test_no_junk_in_any_form_ends_in_a_fault(app, least, deep, the_house):
    values, session = the_house.values, the_house.sessions["head"]

    browser = Browser(raise_request_exception=False)

    def ask(method: str, path: str, body: Any = None) -> Any:
        browser.cookies.clear()
        browser.cookies[settings.SESSION_COOKIE_NAME] = session
        with transaction.atomic():
            answer = getattr(browser, method)(path, body)
            transaction.set_rollback(True)
        return answer

    faults, filled = [], 0
    for name, one in WAYS.items():
        if is_api(name) or name not in ADDRESSES or "head" not in one.write:
            continue
        if not name.startswith(f"{app}:"):
            continue
        path = reverse(name, kwargs={key: values[at] for key, at in one.at.items()})
        page = ask("get", path)
        fields = (
            _posted(page.content.decode()) if page.status_code == 200 else {"note": ""}
        )
        filled += bool(fields)
        for at, body in enumerate(_tries(fields, filled, deep)):
            # The page with all its errors is drawn; with one error after the other
            # only made.
            with nullcontext() if deep or at <= DRAWN else unrendered():
                answer = ask("post", path, body)
            if answer.status_code >= 500:
                changed = {key: body[key][:20] for key in body if body[key] in JUNK}
                faults.append(f"{name} {changed}")
    assert filled >= least
    assert faults == []


ASKED = (
    *("q", "search", "page", "per_page", "state", "status", "client", "area", "barn"),
    *("farrier", "horse", "day", "until", "since", "week", "run_by", "owner", "aside"),
    *("invoice", "visit", "visits", "next"),
)
"""Names that some page or list of the API reads out of its address."""


@pytest.mark.slow
def test_no_junk_in_any_address_ends_in_a_fault(deep, the_house):
    values = the_house.values
    browser = Browser(raise_request_exception=False)
    browser.cookies[settings.SESSION_COOKIE_NAME] = the_house.sessions["head"]
    faults, seen = [], 0
    for number, (name, one) in enumerate(WAYS.items()):
        if name not in ADDRESSES or "head" not in (one.read or ()):
            continue
        path = reverse(name, kwargs={key: values[at] for key, at in one.at.items()})
        for at, junk in enumerate(_turn(number, deep)):
            # Drawn with the first junk: the other differs in what is asked for alone.
            drawn = nullcontext() if deep or not at else unrendered()
            with drawn, transaction.atomic():
                answer = browser.get(path, dict.fromkeys(ASKED, junk))
                if answer.streaming:  # read, so that its file is closed
                    answer.getvalue()
                transaction.set_rollback(True)
            seen += 1
            if answer.status_code >= 500:
                faults.append(f"{name} {junk[:20]!r}")
    assert seen > 100
    assert faults == []

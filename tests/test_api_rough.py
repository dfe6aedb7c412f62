"""What programs send by mistake: every operation that takes a body is sent junk, field
by field, and must answer as its description tells, never with a fault.

Each field takes its turn at a share of the junk;
`python3 manage.py test tests/test_api_rough.py --deep` tries all in each.
"""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client as Browser
from django.urls import resolve, reverse

from practice.api.described import _resolved
from practice.api.schema import the_schema
from tests.doors import WAYS
from tests.test_doors import ADDRESSES, is_api

APPS = ("practice", "horses", "scheduling", "billing")
JUNK: tuple[Any, ...] = (
    None,
    True,
    -1,
    10**30,
    0.1,
    "",
    " ",
    "x" * 5000,
    "a\u0000b",
    "\ud83d\ude00",
    "2026-02-30",
    "NaN",
    [],
    [None],
    {},
    {"id": 1},
)
BODIES: tuple[str, ...] = (
    "",
    "{",
    "null",
    "[]",
    '"x"',
    "1",
    "NaN",
    '{"a": 1e999}',
    "[" * 400,
)


def _fields(shape: dict[str, Any]) -> Iterator[str]:
    yield from _resolved(the_schema(), shape).get("properties", {})


SHARE = 5
"""Of how many kinds of junk a field meets one, unless all are asked for."""


def _bodies(operation: dict[str, Any], number: int, deep: bool) -> Iterator[str]:
    step = 1 if deep else SHARE
    yield from BODIES[number % step :: step]
    content = operation["requestBody"]["content"]["application/json"]
    names = list(_fields(content.get("schema", {})))
    for at, name in enumerate(names):
        for junk in JUNK[(number + at) % step :: step]:
            yield json.dumps({name: junk})
    for junk in JUNK[number % step :: step]:
        yield json.dumps(dict.fromkeys(names, junk))


def _names_of(app: str) -> list[str]:
    """The addresses of programs in an app."""
    return [
        name for name in sorted(filter(is_api, ADDRESSES)) if name.startswith(f"{app}:")
    ]


def _operations(
    app: str, values: dict[str, Any]
) -> Iterator[tuple[str, str, str, dict[str, Any]]]:
    """Method, template, a real address and the description of each with a body."""
    paths = the_schema()["paths"]
    for name in _names_of(app):
        one = WAYS[name]
        path = reverse(name, kwargs={key: values[at] for key, at in one.at.items()})
        template = "/" + resolve(path).route
        for told_path, methods in paths.items():
            if _shape(told_path) == _shape(template):
                for method, operation in methods.items():
                    if "requestBody" in operation:
                        yield method, told_path, path, operation


def _shape(path: str) -> list[str]:
    """The address with every name of a parameter made alike."""
    return [
        "*" if part[:1] in {"{", "<"} or "?P<" in part else part
        for part in path.strip("^$/").replace("/?", "/").rstrip("/").split("/")
    ]


@pytest.mark.slow
@pytest.mark.parametrize("app", APPS)
def test_no_junk_in_any_body_ends_in_a_fault(app, deep, the_house):
    values, session = the_house.values, the_house.sessions["head"]
    browser = Browser(raise_request_exception=False)
    faults, reached = [], 0
    for method, _, path, operation in _operations(app, values):
        reached += 1
        for body in _bodies(operation, reached, deep):
            browser.cookies.clear()
            browser.cookies[settings.SESSION_COOKIE_NAME] = session
            with transaction.atomic():
                answer = getattr(browser, method)(
                    path, body, content_type="application/json"
                )
                transaction.set_rollback(True)
            if str(answer.status_code) not in operation["responses"]:
                faults.append(f"{method} {path} {body[:60]}: {answer.status_code}")
    assert reached > 0
    assert faults == []


@pytest.mark.once
def test_each_operation_with_a_body_is_of_an_app_that_is_tried(the_house):
    values = the_house.values
    tried = {
        (method, template)
        for app in APPS
        for method, template, *_ in _operations(app, values)
    }
    takes_a_body = {
        (method, template)
        for template, methods in the_schema()["paths"].items()
        for method, operation in methods.items()
        if "requestBody" in operation
    }
    assert tried == takes_a_body

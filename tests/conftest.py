"""The cast, clients by role, and the tools that many tests share."""

import gc
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from itertools import count
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from django.apps import apps
from django.conf import settings as django_settings
from django.db import connection, transaction
from django.test import Client as Browser
from django.test import override_settings
from django.test.utils import (
    CaptureQueriesContext,
    setup_databases,
    teardown_databases,
)

from tests import doors, factories
from tests.database import migrated_once

# How long an example takes says more of the machine than of the code.
hypothesis.settings.register_profile("house", deadline=None, max_examples=40)
hypothesis.settings.register_profile("deep", deadline=None)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--deep",
        action="store_true",
        help="all junk in all fields, where a share of it is tried otherwise, and a "
        "hundred invented examples instead of forty",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Before the tests are read: they take the profile as they find it."""
    hypothesis.settings.load_profile("deep" if config.getoption("deep") else "house")


@pytest.fixture(scope="session")
def deep(request: pytest.FixtureRequest) -> bool:
    return bool(request.config.getoption("--deep"))


@dataclass(frozen=True)
class Furnished:
    """People by role, values in addresses, sessions by role, and where files are."""

    cast: dict[str, Any]
    values: dict[str, Any]
    sessions: dict[str, str]
    roots: dict[str, Path]


SHELLS = ("_pages", "_portal", "_api")
# Who asks for one of these has a database; all others are refused one.
ON_A_DATABASE = {"db", "transactional_db", "live_server", "installation"}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What has no database is the same on each: marked ``once`` without a word. So are
    the shells, pages and API: that each page opens and each form and document is taken
    on either database is the rough tests' part, and what they call has tests of its
    own. So is what Hypothesis invents: it searches figures, not the database.
    """
    for item in items:
        asked = set(getattr(item, "fixturenames", ()))
        has_none = not (asked & ON_A_DATABASE or item.get_closest_marker("django_db"))
        invented = getattr(getattr(item, "obj", None), "is_hypothesis_test", False)
        if has_none or invented or item.path.stem.endswith(SHELLS):
            item.add_marker("once")


def pytest_collection_finish() -> None:
    """What is loaded by now stays to the end: the collector of cycles need not walk
    through it with every test. A sixth of the processor's time.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 50)


@pytest.fixture(scope="session")
def django_db_setup(
    django_test_environment: None,
    django_db_blocker: Any,
    django_db_modify_db_settings: None,
) -> Iterator[None]:
    """The test database, migrated once for all processes that test."""
    with django_db_blocker.unblock():
        with migrated_once():
            made = setup_databases(verbosity=0, interactive=False)
        yield
        teardown_databases(made, verbosity=0)


_houses = count(1)


@pytest.fixture(autouse=True)
def house(settings: Any, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Each test writes below its own folder, made when it does, and rings no worker."""
    own = tmp_path_factory.getbasetemp() / f"house{next(_houses)}"
    settings.OUTBOX_BELL = ""
    settings.MEDIA_ROOT = own / "media"
    settings.DOCUMENTS_ROOT = own / "documents"
    settings.MADE_ROOT = own / "made"


@pytest.fixture(autouse=True)
def books_can_be_cleared(request: Any) -> Any:
    """After a test on real transactions every row is deleted, which the guards of
    issued documents refuse: they are laid aside for that moment.
    """
    names = {"transactional_db", "live_server"} & set(request.fixturenames)
    marker = request.node.get_closest_marker("django_db")
    if not (names or (marker and marker.kwargs.get("transaction"))):
        yield
        return
    # Asked for here alone: a test without a database is to open none. In a run of such
    # tests no test database is made, and it would be the settings' own, a file.
    request.getfixturevalue("_django_db_helper")
    yield
    rows = [
        apps.get_model("billing", model)._base_manager.all()
        for model in (
            *("BankLine", "LedgerEntry", "Allocation", "Payment", "Dispute"),
            *("Rendition", "InvoiceAllowance", "InvoiceLine", "Invoice"),
        )
    ]
    guards = import_module("billing.migrations.0006_the_ledger_stays")
    with connection.schema_editor() as editor:
        guards.take_down(None, editor)
        for every in rows:
            every._raw_delete(every.db)
        guards.put_up(None, editor)


@pytest.fixture
def practice(db: None) -> Any:
    """A small British practice: GBP, VAT registered, millimetres."""
    return factories.make_practice()


@pytest.fixture
def farrier(practice: Any) -> Any:
    """Ailsa runs the practice and shoes most of its horses."""
    return factories.make_user("farrier", name="Ailsa Farrier", runs_practice=True)


@pytest.fixture
def second_farrier(practice: Any) -> Any:
    """Bram shoes beside her; practice settings are not his."""
    return factories.make_user("farrier", name="Bram Farrier")


@pytest.fixture
def apprentice(practice: Any) -> Any:
    """Calum learns: he records a visit but does not close it."""
    return factories.make_user("apprentice", name="Calum Apprentice")


@pytest.fixture
def office(practice: Any) -> Any:
    """Dorothy books and bills, and treats no horse."""
    return factories.make_user("office", name="Dorothy Office")


@pytest.fixture
def owner(practice: Any) -> Any:
    """Elspeth owns a horse and signs in by a link."""
    return factories.make_owner(name="Elspeth Owner")


@pytest.fixture
def other_owner(practice: Any) -> Any:
    """Fergus owns another horse and should see nothing of Elspeth's."""
    return factories.make_owner(name="Fergus Other")


@pytest.fixture
def barn_contact(practice: Any) -> Any:
    """Grizel runs a barn: she sees its visits, not health or money."""
    return factories.make_user("barn_contact", name="Grizel Contact")


def _signed_in(user: Any) -> Browser:
    browser = Browser()
    browser.force_login(user)
    return browser


@pytest.fixture
def as_farrier(farrier: Any) -> Browser:
    return _signed_in(farrier)


@pytest.fixture
def as_second_farrier(second_farrier: Any) -> Browser:
    return _signed_in(second_farrier)


@pytest.fixture
def as_apprentice(apprentice: Any) -> Browser:
    return _signed_in(apprentice)


@pytest.fixture
def as_office(office: Any) -> Browser:
    return _signed_in(office)


@pytest.fixture
def as_owner(owner: Any) -> Browser:
    return _signed_in(owner)


@pytest.fixture
def as_other_owner(other_owner: Any) -> Browser:
    return _signed_in(other_owner)


@pytest.fixture
def as_barn_contact(barn_contact: Any) -> Browser:
    return _signed_in(barn_contact)


@pytest.fixture
def as_stranger(db: None) -> Browser:
    return Browser()


@pytest.fixture(scope="module")
def furnished(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any
) -> Iterator[Furnished]:
    """The house of ``tests/doors.py`` with someone of each role, made once a module."""
    folder = tmp_path_factory.mktemp("furnished")
    roots = {"MEDIA_ROOT": folder / "media", "DOCUMENTS_ROOT": folder / "documents"}
    with (
        override_settings(OUTBOX_BELL="", **roots),
        django_db_blocker.unblock(),
        transaction.atomic(),
    ):
        cast = doors.cast()
        values = doors.house(cast)
        sessions = {role: _session_of(user) for role, user in cast.items()}
        with django_db_blocker.block():
            yield Furnished(cast, values, sessions, roots)
        transaction.set_rollback(True)


@pytest.fixture
def the_house(furnished: Furnished, db: None, settings: Any) -> Furnished:
    """It, for a test that is rolled back and leaves it as it was."""
    for name, root in furnished.roots.items():
        setattr(settings, name, root)
    return furnished


def _session_of(user: Any) -> str:
    cookie = _signed_in(user).cookies[django_settings.SESSION_COOKIE_NAME]
    return str(cookie.value)


@pytest.fixture
def grows_flat() -> Callable[..., int]:
    """``grows_flat(browser, url, make)``: fetches the page, makes more rows, fetches
    it again, and asserts that the number of queries did not move. Returns it, so that
    the test can pin it too.
    """

    def check(browser: Browser, url: str, make: Callable[[], object]) -> int:
        make()
        with CaptureQueriesContext(connection) as few:
            assert browser.get(url).status_code == 200
        for _ in range(5):
            make()
        with CaptureQueriesContext(connection) as many:
            assert browser.get(url).status_code == 200
        assert len(many) == len(few), "\n".join(
            row["sql"][:200] for row in many.captured_queries
        )
        return len(few)

    return check

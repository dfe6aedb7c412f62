"""A whole installation of its own, as ``manage.py up`` starts it, and a phone.

What the browser complains about (scripts, content security, missing files) fails the
test that was running.
"""

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from email import message_from_string, policy
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from playwright.sync_api import (
    BrowserContext,
    ConsoleMessage,
    Page,
    Response,
    expect,
)

from tests.database import kept

ROOT = Path(__file__).resolve().parents[2]
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
READY_WITHIN_S = 180


@dataclass
class House:
    """A running installation: its address and its data folder."""

    address: str
    data: Path
    said: str = ""
    sessions: dict[str, list[Any]] = field(default_factory=dict)
    records: dict[str, str] = field(default_factory=dict)

    def mails(self) -> list[Any]:
        """What was sent so far, oldest first."""
        return [
            message_from_string(text, policy=policy.default)
            for file in sorted((self.data / "mail").glob("*"))
            for text in re.split(r"\n-{70,}\n", file.read_text(encoding="utf-8"))
            if text.strip()
        ]

    def wait_for_mail(
        self, to: str, what: str, *, after: int = 0, seconds: float = 60
    ) -> str:
        """The text of the latest mail to someone that has ``what`` in it, leaving
        out the first ``after`` of all mails.
        """
        last = time.monotonic() + seconds
        while time.monotonic() < last:
            for mail in reversed(self.mails()[after:]):
                body = mail.get_body(("plain",))
                text = body.get_content() if body else ""
                if to in str(mail["To"]) and what in text:
                    return text
            time.sleep(0.2)
        raise AssertionError(f"no mail to {to} with {what!r} within {seconds} s")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _answers(address: str) -> bool:
    try:
        urllib.request.urlopen(f"{address}/", timeout=20).close()  # noqa: S310 -- ours
    except urllib.error.HTTPError:
        return True
    except OSError:
        return False
    return True


def _start(data: Path, *options: str) -> tuple[House, subprocess.Popen[bytes], Path]:
    port = _free_port()
    kept = {k: v for k, v in os.environ.items() if not k.startswith("CLENCHLINE_")}
    kept.pop("DJANGO_SETTINGS_MODULE", None)
    log = data.parent / f"{data.name}.log"
    with log.open("wb") as sink:
        process = subprocess.Popen(
            [sys.executable, "manage.py", "up", "--port", str(port), *options],
            cwd=ROOT,
            env={**kept, "CLENCHLINE_DATA": str(data), "PYTHONUNBUFFERED": "1"},
            stdout=sink,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
    return House(address=f"http://localhost:{port}", data=data), process, log


def _run(data: Path, *options: str) -> Iterator[House]:
    house, process, log = _start(data, *options)
    try:
        last = time.monotonic() + READY_WITHIN_S
        while "is ready" not in log.read_text(encoding="utf-8", errors="replace"):
            assert process.poll() is None, log.read_text(encoding="utf-8")
            assert time.monotonic() < last, log.read_text(encoding="utf-8")
            time.sleep(0.1)
        assert _answers(house.address)
        house.said = log.read_text(encoding="utf-8")
        yield house
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


@pytest.fixture(scope="session")
def empty_house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """As `up --empty` leaves it: no practice yet. That tables are made on a first start
    is seen in the other house; here they are copied where there are some to copy.
    """
    data = tmp_path_factory.mktemp("empty") / "data"
    tables = kept() if connection.vendor == "sqlite" else ""
    if tables:
        data.mkdir()
        shutil.copyfile(tables, data / "clenchline.sqlite3")
    yield from _run(data, "--empty")


@pytest.fixture(scope="session")
def demo_house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """As `up` leaves it on the first start: with the invented practice."""
    yield from _run(tmp_path_factory.mktemp("demo") / "data")


@pytest.fixture(scope="session")
def base_url() -> str:
    """None: each house has its own. (The plugin's own fixture warns on pytest 9.)"""
    return ""


@pytest.fixture(scope="session")
def browser_type_launch_args(
    browser_type_launch_args: dict[str, Any],
) -> dict[str, Any]:
    path = os.environ.get("CLENCHLINE_TEST_CHROMIUM", "") or "/usr/bin/chromium"
    quiet = [
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--disable-dev-shm-usage",
    ]
    return {**browser_type_launch_args, "executable_path": path, "args": quiet}


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A phone in Scotland, with a thumb."""
    return {
        **browser_context_args,
        "viewport": PHONE,
        "has_touch": True,
        "locale": "en-GB",
        "timezone_id": "Europe/London",
        "reduced_motion": "reduce",
    }


@dataclass
class Complaints:
    """What the browser and the server complained about."""

    lines: list[str] = field(default_factory=list)

    def watch(self, context: BrowserContext) -> None:
        context.on("console", self._console)
        context.on("response", self._response)
        context.on(
            "weberror", lambda error: self.lines.append(f"script: {error.error}")
        )

    def _console(self, message: ConsoleMessage) -> None:
        # Whether a missing file matters is told by the response, not by its echo.
        if message.type == "error" and "Failed to load resource" not in message.text:
            self.lines.append(f"console: {message.text}")

    def _response(self, response: Response) -> None:
        is_page = response.request.is_navigation_request()
        if response.status >= 500 or (response.status >= 400 and not is_page):
            self.lines.append(f"{response.status}: {response.url}")


@pytest.fixture
def complaints(context: BrowserContext) -> Iterator[Complaints]:
    """Empty at the end of the test, or it fails."""
    found = Complaints()
    found.watch(context)
    yield found
    assert found.lines == []


@pytest.fixture
def phone(page: Page, complaints: Complaints) -> Page:
    """A page on a phone, watched."""
    page.set_default_timeout(15_000)
    return page


def sign_in(page: Page, house: House, email: str, password: str) -> None:
    """As staff: by password."""
    page.goto(f"{house.address}/sign-in/")
    page.get_by_label("E-mail").first.fill(email)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(lambda url: "/sign-in" not in url)


def come_in(page: Page, house: House, email: str, password: str) -> None:
    """As staff, with the session of the first time: signing in is seen then, and a
    test of something else needs no more than to be let in. Opens no page.
    """
    if email not in house.sessions:
        sign_in(page, house, email, password)
        house.sessions[email] = page.context.cookies()
    else:
        page.context.add_cookies(house.sessions[email])


def open_cinder(page: Page, house: House) -> None:
    """The open record of Cinder, a shod horse at Cauldrigg, on the left fore; the visit
    is started by who comes first."""
    if "Cinder" in house.records:
        page.goto(house.records["Cinder"])
    else:
        main = page.get_by_role("main")
        page.goto(f"{house.address}/barns/")
        main.get_by_role("link", name=re.compile("^Cauldrigg")).click()
        barn = re.search(r"/barns/(\d+)/", page.url)
        assert barn
        page.goto(f"{house.address}/visits/start/{barn[1]}/")
        page.get_by_role("checkbox", name="Cinder").check()
        page.get_by_role("button", name="Start the visit").click()
        main.get_by_role("link", name=re.compile("^Cinder")).click()
        page.wait_for_url(re.compile("/records/"))
        house.records["Cinder"] = page.url
    expect(page.get_by_role("heading", level=1)).to_have_text("Cinder")


def sign_in_by_link(page: Page, house: House, email: str) -> None:
    """As an owner: by the link in a mail, and the button behind it."""
    before = len(house.mails())
    page.goto(f"{house.address}/sign-in/")
    page.get_by_label("E-mail").last.fill(email)
    page.get_by_role("button", name=re.compile("link", re.IGNORECASE)).click()
    text = house.wait_for_mail(email, "/sign-in/link/", after=before)
    found = re.search(r"https?://\S+/sign-in/link/\S+", text)
    assert found
    page.goto(found[0])
    page.get_by_role("main").get_by_role("button").first.click()
    page.wait_for_url(lambda url: "/sign-in" not in url)


def no_sideways_scroll(page: Page) -> None:
    """The page is no wider than the screen."""
    page.wait_for_load_state()
    width, screen = page.evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert width <= screen, f"{page.url} is {width} px wide on a screen of {screen}"


def settled(page: Page) -> None:
    """Loaded, and the pieces that other apps own are in their places."""
    page.wait_for_load_state()
    expect(page.locator("[data-fragment][aria-busy]")).to_have_count(0)


_NAMELESS = """() => [...document.querySelectorAll(
  'input:not([type=hidden]), select, textarea, button, a[href]'
)].filter((one) => one.offsetParent && !(
  one.labels?.length || one.getAttribute('aria-label') || one.title ||
  one.getAttribute('aria-labelledby') || one.textContent?.trim() ||
  one.querySelector('[aria-label], title, img[alt]')
)).map((one) => one.outerHTML.slice(0, 160))"""
_TWICE = """() => {
  const ids = [...document.querySelectorAll('[id]')].map((one) => one.id);
  return [...new Set(ids.filter((id, at) => ids.indexOf(id) !== at))];
}"""


def can_be_used_by_all(page: Page) -> None:
    """One heading of the first order, a name on every control, no id twice."""
    assert page.locator("h1").count() == 1, f"{page.url}: one h1"
    assert page.evaluate(_NAMELESS) == [], page.url
    assert page.evaluate(_TWICE) == [], page.url

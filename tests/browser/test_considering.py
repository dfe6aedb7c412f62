"""Limb by limb on a phone, and considerations answered without leaving the page."""

import re

import pytest
from playwright.sync_api import Page, expect

from practice.demo import PASSWORD
from tests.browser.conftest import (
    DESK,
    PHONE,
    House,
    can_be_used_by_all,
    come_in,
    no_sideways_scroll,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def _horse(page: Page, house: House, name: str) -> str:
    page.goto(f"{house.address}/horses/?search={name}")
    page.get_by_role("main").get_by_role("link", name=re.compile(name)).first.click()
    page.wait_for_url(re.compile(r"/horses/\d+/$"))
    return page.url


def test_a_limb_is_noted_with_a_thumb(demo_house: House, phone: Page) -> None:
    come_in(phone, demo_house, "finn@example.org", PASSWORD)
    horse = _horse(phone, demo_house, "Hindsight")
    phone.goto(f"{horse}limbs/")
    phone.get_by_role("link", name="Note on LH").click()
    for size in (PHONE, DESK):
        phone.set_viewport_size(size)
        no_sideways_scroll(phone)
        can_be_used_by_all(phone)
    phone.set_viewport_size(PHONE)
    for words in ("toes out", "slight"):
        phone.locator("label.chip", has_text=re.compile(f"^{words}$")).click()
    phone.get_by_label("The same on the right hind").check()
    phone.get_by_role("button", name="Note it").click()
    expect(phone.get_by_text("Noted. It is carried to every visit.")).to_be_visible()
    phone.goto(horse)
    expect(phone.locator('[data-limb="LH"]')).to_be_visible()
    expect(phone.locator('[data-limb="RH"]')).to_be_visible()
    no_sideways_scroll(phone)


def test_an_answer_is_given_without_leaving_the_page(
    demo_house: House, phone: Page
) -> None:
    come_in(phone, demo_house, "isla@example.org", PASSWORD)
    horse = _horse(phone, demo_house, "Gaberlunzie")
    row = phone.locator("#consider-opposite_heels")
    row.locator("summary").click()
    row.get_by_label("Note").fill("next time")
    for button, badge in (("Accept", "accepted"), ("Set aside", "set aside")):
        row.get_by_role("button", name=button).click()
        expect(row.locator("summary .badge", has_text=badge)).to_be_visible()
        expect(row.get_by_label("Note")).to_have_value("next time")
        expect(row.locator("summary")).to_be_focused()
    row.get_by_role("button", name="Ignore").click()
    expect(row.locator("summary .badge")).to_have_count(1)  # the foot alone
    assert phone.url == horse
    can_be_used_by_all(phone)


@pytest.mark.parametrize("path", ["limbs/", "considerations/"])
def test_its_pages_fit_both_screens(demo_house: House, phone: Page, path: str) -> None:
    come_in(phone, demo_house, "isla@example.org", PASSWORD)
    horse = _horse(phone, demo_house, "Gaberlunzie")
    for address in (f"{horse}{path}", f"{demo_house.address}/considerations/"):
        phone.goto(address)
        for size in (PHONE, DESK):
            phone.set_viewport_size(size)
            no_sideways_scroll(phone)
            can_be_used_by_all(phone)

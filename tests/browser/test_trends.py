"""Feet over time and what a wedge would do, on a phone and on a desk."""

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


def _horse(page: Page, house: House) -> str:
    page.goto(f"{house.address}/horses/?search=Cobnut")
    page.get_by_role("main").get_by_role("link", name=re.compile("Cobnut")).click()
    page.wait_for_url(re.compile(r"/horses/\d+/$"))
    return page.url


def test_charts_and_their_tables_fit_both_screens(
    demo_house: House, phone: Page
) -> None:
    come_in(phone, demo_house, "isla@example.org", PASSWORD)
    _horse(phone, demo_house)
    phone.get_by_role("link", name="Trends").click()
    phone.get_by_role("link", name="RH", exact=True).click()
    expect(phone.get_by_role("heading", level=2, name="Hind feet")).to_be_visible()
    first = phone.locator(".trend-card").first
    expect(first.get_by_role("img", name=re.compile("left hind"))).to_be_visible()
    first.get_by_text("The figures as a table").click()
    expect(first.get_by_role("columnheader", name="RH, mm")).to_be_visible()
    for size in (PHONE, DESK):
        phone.set_viewport_size(size)
        no_sideways_scroll(phone)
        can_be_used_by_all(phone)
    phone.set_viewport_size(PHONE)
    words = first.locator("svg text").first
    assert words.evaluate("word => word.getBoundingClientRect().height") > 10


def test_the_figures_follow_the_steppers(demo_house: House, phone: Page) -> None:
    come_in(phone, demo_house, "isla@example.org", PASSWORD)
    _horse(phone, demo_house)
    phone.get_by_role("link", name="Record", exact=True).first.click()
    phone.get_by_role("link", name="What would it do?").first.click()
    angle = phone.get_by_role("row", name=re.compile("Toe angle"))
    expect(angle).to_contain_text("0° ± 0°")
    for _ in range(4):
        phone.get_by_label("More Wedge, in degrees").click()
    expect(angle).to_contain_text("+2° ± 0°")
    expect(phone).to_have_url(re.compile(r"wedge_deg=2\.0"))
    phone.get_by_label("under the toe").check()
    expect(angle).to_contain_text("−2° ± 0°")
    phone.reload()
    expect(angle).to_contain_text("−2° ± 0°")
    for size in (PHONE, DESK):
        phone.set_viewport_size(size)
        no_sideways_scroll(phone)
        can_be_used_by_all(phone)

"""A slip of the keys is found, mended in its record, and the window follows."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import (
    House,
    can_be_used_by_all,
    come_in,
    no_sideways_scroll,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]

WINDOW = re.compile(r"\d+( \w+)?\s?[–]\s?\d+ \w+.*best")


def test_a_slip_is_mended_and_the_window_follows(phone: Page, demo_house: House):
    page, main = phone, phone.get_by_role("main")
    come_in(page, demo_house, "isla@example.org", "anvil and rasp")
    page.goto(f"{demo_house.address}/horses/?search=Second+Wind")
    expect(main).to_contain_text("check a measurement")
    main.get_by_role("link", name=re.compile("^Second Wind")).first.click()
    story = page.locator("#next-visit")
    expect(story).to_contain_text("Check a measurement")
    expect(story).to_contain_text(WINDOW)
    expect(story.locator("svg.due-chart")).to_be_visible()
    no_sideways_scroll(page)
    can_be_used_by_all(page)

    horse = page.url
    story.get_by_role("link", name="Mend the record").click()
    length = page.locator('[name="RF-dorsal_length_mm"]')
    length.fill(str(round(float(length.input_value()) - 30)))
    page.locator('[name="reason"]').fill("a digit mistyped")
    page.get_by_role("button", name=re.compile("amend", re.IGNORECASE)).last.click()
    page.wait_for_url(lambda url: "/amend" not in url)
    page.goto(horse)
    expect(story).to_contain_text(WINDOW)
    expect(story).not_to_contain_text("Check a measurement")
    page.goto(f"{demo_house.address}/due/?until=2099-01-01")
    expect(main.locator("li.due-horse").first.get_by_text("best ")).to_be_visible()
    no_sideways_scroll(page)
    can_be_used_by_all(page)

"""What a newcomer meets first."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import House, can_be_used_by_all, no_sideways_scroll

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_an_empty_house_asks_who_you_are(phone: Page, empty_house: House):
    phone.goto(empty_house.address)
    expect(phone.get_by_role("heading", level=1)).to_be_visible()
    expect(phone.get_by_label("E-mail")).to_be_visible()
    no_sideways_scroll(phone)
    can_be_used_by_all(phone)

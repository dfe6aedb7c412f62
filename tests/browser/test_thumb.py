"""What a dirty thumb does: taps twice, holds, mistypes, loses the page."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import House, come_in, no_sideways_scroll, open_cinder
from tests.browser.test_every_page import password

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def record(phone: Page, demo_house: House) -> Page:
    """The record of a shod horse in an open visit, on the left fore."""
    come_in(phone, demo_house, "isla@example.org", password(demo_house))
    open_cinder(phone, demo_house)
    return phone


def _toe(page: Page):
    return page.locator("#LF").get_by_role("textbox", name=re.compile("^Toe length"))


def test_plus_starts_from_last_time_and_minus_takes_one_back(record: Page):
    toe = _toe(record).first
    last = record.locator("#LF .last-time").first.inner_text()
    found = re.search(r"[\d.]+", last)
    assert found
    toe.fill("")  # another test may have recorded this horse today
    record.locator("#LF").get_by_role("button", name="More Toe length").first.click()
    expect(toe).to_have_value(found[0])
    record.locator("#LF").get_by_role("button", name="Less Toe length").first.click()
    expect(toe).to_have_value(f"{float(found[0]) - 1:g}")


def test_a_held_plus_goes_on(record: Page):
    toe = _toe(record).first
    toe.fill("80")
    more = record.locator("#LF").get_by_role("button", name="More Toe length").first
    more.scroll_into_view_if_needed()
    box = more.bounding_box()
    assert box
    record.mouse.move(box["x"] + 20, box["y"] + 20)
    record.mouse.down()
    expect(toe).not_to_have_value(re.compile(r"^8[0-2]$"))
    record.mouse.up()
    assert float(toe.input_value()) >= 83


def test_a_mistyped_measure_is_told_beside_its_field_and_all_else_is_kept(
    record: Page,
):
    left = record.locator("#LF")
    _toe(record).first.fill("eighty")
    left.get_by_role("checkbox", name="thrush", exact=True).check()
    left.get_by_role("textbox", name=re.compile("^Note on")).fill("wet stable")
    record.get_by_role("button", name="Save, back to the barn").click()
    expect(record.locator(".error-summary")).to_be_visible()
    expect(_toe(record).first).to_have_value("eighty")
    expect(_toe(record).first).to_have_attribute("aria-invalid", "true")
    expect(left.get_by_role("checkbox", name="thrush", exact=True)).to_be_checked()
    expect(left.get_by_role("textbox", name=re.compile("^Note on"))).to_have_value(
        "wet stable"
    )
    no_sideways_scroll(record)


def test_what_was_typed_comes_back_after_the_page_is_lost(record: Page):
    _toe(record).first.fill("91")
    expect(record.locator("[data-draft-state]")).to_contain_text("Kept on this phone")
    record.goto("about:blank")
    record.go_back()
    expect(record.locator("[data-draft-words]")).to_contain_text("had not saved")
    expect(_toe(record).first).to_have_value("91")


def test_the_last_record_is_one_tap_away(record: Page):
    record.get_by_role("button", name="Whole horse as last time").click()
    for foot in ("LF", "RF", "LH", "RH"):
        length = record.locator(f"#{foot} input[name='{foot}-dorsal_length_mm']")
        expect(length).not_to_have_value("")
    # Not saved by a tap alone, and not lost either.
    expect(record.locator("[data-draft-state]")).to_contain_text("Kept on this phone")
    record.reload()
    expect(record.locator("[data-draft-words]")).to_contain_text("had not saved")
    expect(_toe(record).first).not_to_have_value("")


def test_two_taps_make_one_client(phone: Page, demo_house: House):
    come_in(phone, demo_house, "una@example.org", password(demo_house))
    phone.goto(f"{demo_house.address}/clients/add/")
    phone.get_by_label("Name").first.fill("Twice Tapped")
    phone.get_by_role("button", name="Save").dblclick()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Twice Tapped")
    phone.goto(f"{demo_house.address}/clients/?q=Twice")
    expect(phone.locator("main .rows a")).to_have_count(1)

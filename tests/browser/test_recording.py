"""Recording a foot with a thumb: nothing typed is ever lost, with or without a signal."""

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from practice.demo import PASSWORD
from tests.browser.conftest import (
    PHONE,
    House,
    can_be_used_by_all,
    come_in,
    no_sideways_scroll,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]

THUMB_PX = 56
SHORT = """() => [...document.querySelectorAll(
  '.record :is(.button, .stepper button, .chip > span, .foot-tabs > a, summary)'
)].filter((one) => one.offsetParent && one.getBoundingClientRect().height < %d)
 .map((one) => one.outerHTML.slice(0, 120))"""


def open_a_record(page: Page, house: House, barn: int = 0, horse: int = 0) -> str:
    """Starts a visit at one of the demo's barns and opens a horse; its address."""
    come_in(page, house, "isla@example.org", PASSWORD)
    page.goto(f"{house.address}/visits/")
    page.locator("section .rows a").nth(barn).click()
    for chip in page.locator("input[name=horses]").all():
        chip.check(force=True)
    page.get_by_role("button", name="Start the visit").click()
    page.locator(".rows a.row").nth(horse).click()
    page.wait_for_url(re.compile("/records/"))
    return page.url


def value(page: Page, name: str) -> str:
    return page.locator(f'[name="{name}"]').input_value()


def test_every_target_takes_a_thumb(phone: Page, demo_house: House):
    open_a_record(phone, demo_house)
    phone.locator('#LF input[name="LF-work"][value=new_shoe]').check(force=True)
    assert phone.evaluate(SHORT % THUMB_PX) == []
    no_sideways_scroll(phone)
    can_be_used_by_all(phone)
    phone.locator("[data-tab=horse]").click()
    assert phone.evaluate(SHORT % THUMB_PX) == []
    no_sideways_scroll(phone)


def test_a_foot_is_filled_without_a_keyboard(phone: Page, demo_house: House):
    address = open_a_record(phone, demo_house, barn=1)
    phone.get_by_role("button", name="Whole horse as last time").click()
    length = float(value(phone, "LF-dorsal_length_mm"))
    more = phone.locator("#LF").get_by_role("button", name="More Toe length").first
    more.click()
    assert float(value(phone, "LF-dorsal_length_mm")) == length + 1
    # a finding unfolds its places and grades, and the drawing follows
    phone.locator('#LF [data-see][value="wall_loss"]').check(force=True)
    row = phone.locator('#LF [data-seen-row="wall_loss"]')
    row.locator('input[name="LF-see-wall_loss-at"][value="toe"]').check(force=True)
    row.locator('input[name="LF-see-wall_loss-grade"][value="slight"]').check(
        force=True
    )
    drawn = phone.locator('[data-foot-look="LF"]')
    expect(drawn.locator(".findings")).to_contain_text("wall loss, toe, slight")
    # work and shoe go to the pair
    phone.locator('#LF input[name="LF-work"][value=new_shoe]').check(force=True)
    phone.locator('#LF input[name="LF-shoe_profile"][value=concave]').check(force=True)
    phone.locator("#LF [data-copy]").click()
    phone.locator("[data-tab=RF]").click()
    expect(phone.locator("#LF")).to_be_hidden()
    expect(phone.locator('#RF input[name="RF-work"][value=new_shoe]')).to_be_checked()
    assert phone.locator('#RF [name="RF-shoe_profile"][value=concave]').is_checked()
    phone.get_by_role("button", name="Save, back to the barn").click()
    phone.wait_for_url(re.compile("/visits/"))
    expect(phone.get_by_role("main")).to_contain_text("recorded")
    expect(phone.locator("[data-draft-badge]:visible")).to_have_count(0)
    phone.goto(address)
    assert float(value(phone, "LF-dorsal_length_mm")) == length + 1
    expect(phone.locator('#LF [data-see][value="wall_loss"]')).to_be_checked()
    expect(phone.locator("[data-draft-notice]")).to_be_hidden()


def test_what_was_typed_is_back_after_leaving(phone: Page, demo_house: House):
    address = open_a_record(phone, demo_house, barn=2)
    phone.locator("[data-tab=RH]").click()
    phone.locator('[name="RH-width_mm"]').fill("123")
    phone.locator('#RH [data-see][value="thrush"]').check(force=True)
    phone.locator('[name="RH-note"]').fill("left <half> done")
    expect(phone.locator("[data-draft-state]")).to_contain_text("Kept on this phone")
    phone.goto(f"{demo_house.address}/horses/")
    phone.goto(address)
    expect(phone.locator("[data-draft-notice]")).to_contain_text("is back")
    assert value(phone, "RH-width_mm") == "123"
    assert value(phone, "RH-note") == "left <half> done"
    expect(phone.locator('#RH [data-see][value="thrush"]')).to_be_checked()
    visit = phone.locator(".crumbs a").get_attribute("href")
    phone.goto(f"{demo_house.address}{visit}")
    expect(phone.locator("[data-draft-badge]:visible")).to_have_count(1)
    phone.goto(address)
    phone.get_by_role("button", name="Forget it").click()
    expect(phone.locator('[name="RH-width_mm"]')).to_have_value("")


def test_without_a_signal_all_stays_and_is_saved_later(phone: Page, demo_house: House):
    open_a_record(phone, demo_house, barn=3)
    phone.locator('[name="LF-width_mm"]').fill("131")
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Save, back to the barn").click()
    expect(phone.locator("[data-draft-state]")).to_contain_text("No signal")
    assert value(phone, "LF-width_mm") == "131"
    phone.context.set_offline(False)
    phone.get_by_role("button", name="Save, back to the barn").click()
    phone.wait_for_url(re.compile("/visits/"))
    expect(phone.locator("[data-draft-badge]:visible")).to_have_count(0)


def test_a_refused_save_opens_the_foot_that_is_wrong(phone: Page, demo_house: House):
    open_a_record(phone, demo_house, barn=4)
    phone.locator("[data-tab=LH]").click()
    phone.locator('[name="LH-dorsal_length_mm"]').fill("ninety")
    phone.get_by_role("button", name="Save, back to the barn").click()
    expect(phone.locator("#LH .error").first).to_be_visible()
    assert value(phone, "LH-dorsal_length_mm") == "ninety"
    phone.locator('[name="LH-dorsal_length_mm"]').fill("90")
    phone.get_by_role("button", name="Save, back to the barn").click()
    phone.wait_for_url(re.compile("/visits/"))


def test_it_works_without_a_script(browser: Browser, demo_house: House):
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    open_a_record(page, demo_house, barn=5)
    for foot in ("LF", "RF", "LH", "RH"):
        expect(page.locator(f"#{foot}")).to_be_visible()
    page.get_by_role("button", name="Whole horse as last time").click()
    assert value(page, "RH-dorsal_length_mm") != ""
    page.locator('#LF [data-see][value="crack"]').check(force=True)
    page.get_by_role("button", name="Save", exact=True).last.click()
    page.locator('input[name="LF-see-crack-at"][value="toe"]').check(force=True)
    page.get_by_role("button", name="Save, back to the barn").click()
    page.wait_for_url(re.compile("/visits/"))
    page.go_back()
    page.reload()
    expect(page.locator('[data-foot-look="LF"] .findings')).to_contain_text(
        "crack, toe"
    )
    context.close()

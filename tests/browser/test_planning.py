"""A foot planned with a thumb: flags come and go, the draft is kept and accepted."""

import re

import pytest
from playwright.sync_api import Browser, Page, expect

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


def _plans(page: Page, house: House, name: str) -> None:
    page.goto(f"{house.address}/horses/?search={name}")
    page.get_by_role("main").get_by_role("link", name=re.compile(name)).first.click()
    page.get_by_role("link", name="Foot plans").click()


def test_a_flag_comes_and_goes_while_the_plan_is_typed(
    demo_house: House, phone: Page
) -> None:
    come_in(phone, demo_house, "isla@example.org", PASSWORD)
    _plans(phone, demo_house, "Far Furlong")
    no_sideways_scroll(phone)
    can_be_used_by_all(phone)
    phone.get_by_role("region", name="left hind").get_by_role(
        "link", name="Plan this foot"
    ).click()
    for size in (DESK, PHONE):
        phone.set_viewport_size(size)
        no_sideways_scroll(phone)
        can_be_used_by_all(phone)
    flags = phone.locator(".plan-flag")
    expect(flags).to_have_count(0)
    phone.locator('[data-place="lateral_heel"] > summary').click()
    phone.locator('[name="out_lateral_heel"]').fill("6")
    expect(flags).to_have_count(1)
    expect(flags).to_contain_text("toward the middle of the foot")
    phone.locator("label.chip", has_text=re.compile("^rocker toe$")).click()
    expect(phone.locator(".plan-count")).to_have_text("1 refused, 1 flagged")
    phone.get_by_label("Foot dressed to fit").check()
    expect(flags).to_have_count(1)
    less = phone.get_by_role("button", name="Less Metal set out")
    for _ in range(7):  # half a millimetre a tap
        less.locator("visible=true").click()
    expect(phone.locator('[name="set_lateral_heel"]')).to_have_value("-3.5")
    expect(flags).to_have_count(0)
    phone.get_by_role("button", name="Keep as a draft").click()
    phone.get_by_role("button", name="Accept this plan").click()
    expect(phone.locator(".state")).to_have_text("accepted")
    expect(phone.locator("svg.plan-ground").first).to_be_visible()
    for size in (DESK, PHONE):
        phone.set_viewport_size(size)
        no_sideways_scroll(phone)
        can_be_used_by_all(phone)


def test_a_slider_moves_the_value_and_the_picture(
    demo_house: House, phone: Page
) -> None:
    come_in(phone, demo_house, "isla@example.org", PASSWORD)
    _plans(phone, demo_house, "Far Furlong")
    phone.get_by_role("region", name="right fore").get_by_role(
        "link", name="Plan this foot"
    ).click()
    phone.locator('[data-place="medial_heel"] > summary').click()
    field = phone.locator('[name="fit_medial_heel"]')
    slide = phone.locator('[data-place="medial_heel"] .plan-slide').nth(1)
    slide.evaluate(
        "s => { s.value = 4; s.dispatchEvent(new Event('input', {bubbles: true})); }"
    )
    expect(field).to_have_value("4")
    expect(phone.locator(".plan-flag")).to_contain_text("medial heel")
    expect(phone.locator('[data-place="medial_heel"] > summary')).to_contain_text(
        "fit 4"
    )


def test_without_a_script_a_button_reckons(demo_house: House, browser: Browser) -> None:
    context = browser.new_context(java_script_enabled=False, viewport=PHONE)
    page = context.new_page()
    come_in(page, demo_house, "isla@example.org", PASSWORD)
    _plans(page, demo_house, "Far Furlong")
    page.get_by_role("region", name="left fore").get_by_role(
        "link", name="Plan this foot"
    ).click()
    page.locator('[data-place="toe"] > summary').click()
    page.locator('[name="fit_toe"]').fill("2")
    page.get_by_role("button", name="Reckon").last.click()
    expect(page.locator(".plan-flag")).to_contain_text("ahead of the last nail")
    expect(page.locator('[name="fit_toe"]')).to_have_value("2")
    context.close()

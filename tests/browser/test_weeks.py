"""A farrier's weeks, on the demo: proposed, moved, accepted, asked, called off, planned
anew; then today runs late, and the round is printed."""

import re
import time

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import (
    DESK,
    Complaints,
    House,
    can_be_used_by_all,
    come_in,
    no_sideways_scroll,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PASSWORD = "anvil and rasp"


def test_four_weeks_from_proposal_to_a_printed_round(
    browser: Browser,
    browser_context_args: dict,
    phone: Page,
    complaints: Complaints,
    demo_house: House,
):
    desk = browser.new_context(
        **{**browser_context_args, "viewport": DESK, "has_touch": False}
    )
    complaints.watch(desk)
    page = desk.new_page()
    page.set_default_timeout(20_000)
    come_in(page, demo_house, "isla@example.org", PASSWORD)
    propose(page, demo_house)
    drag_a_stop_and_take_it_back(page)
    accept_all(page)
    asked = ask_everyone(page, demo_house)
    agree_by_the_mailed_link(phone, asked)
    call_one_off_and_look_who_could_take_it(page, demo_house)
    propose(page, demo_house, may_move="what is pencilled or asked")
    looks_right(page)
    run_today_late_and_print(page, demo_house)
    desk.close()


def looks_right(page: Page) -> None:
    no_sideways_scroll(page)
    can_be_used_by_all(page)


def propose(page: Page, house: House, *, may_move: str = "") -> None:
    page.goto(f"{house.address}/proposals/")
    looks_right(page)
    page.get_by_label("Weeks").select_option("4")
    page.get_by_label("Search for").select_option("5")
    if may_move:
        page.get_by_label(may_move, exact=True).check()
    page.get_by_role("main").get_by_role("button", name="Propose", exact=True).click()
    # Reckoned by the worker; the page looks again by itself.
    expect(page.locator("[data-weeks]")).to_be_visible(timeout=60_000)


def drag_a_stop_and_take_it_back(page: Page) -> None:
    """Picked up, every day says what it would cost; dropped, the stop is there."""
    looks_right(page)
    stop = page.locator(".propose-stop[data-carry]").first
    visit = stop.get_attribute("data-stop")
    stop.hover()
    box = stop.bounding_box()
    assert box
    page.mouse.down()
    page.mouse.move(box["x"] + 40, box["y"] + 40, steps=4)
    best = page.locator(".takes:not(.takes-not)").last
    expect(best).to_be_visible()
    expect(best.locator("[data-cost]")).to_contain_text("min drive")
    best.scroll_into_view_if_needed()
    to = best.get_attribute("data-round")
    place = best.bounding_box()
    assert place
    page.mouse.move(place["x"] + 60, place["y"] + 8, steps=4)
    page.mouse.up()
    moved = page.locator(f'[data-round="{to}"] [data-stop="{visit}"]')
    expect(moved).to_be_visible()
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_text("Taken back:")).to_be_visible()
    rest_a_finger_on_a_stop(page)


def rest_a_finger_on_a_stop(page: Page) -> None:
    """A finger that rests picks the stop up, days say their costs, Escape lets it go."""
    stop = page.locator(".propose-stop[data-carry]").first
    stop.scroll_into_view_if_needed()
    box = stop.bounding_box()
    assert box
    hand = page.context.new_cdp_session(page)
    at = [{"x": box["x"] + 30, "y": box["y"] + 10}]
    hand.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": at})
    expect(page.locator(".carried")).to_be_visible()
    expect(page.locator(".takes").first).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator(".carried, .takes")).to_have_count(0)
    hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def accept_all(page: Page) -> None:
    page.get_by_role("button", name=re.compile("Accept all")).click()
    expect(page.get_by_text("booked, pencilled")).to_be_visible()
    expect(page.get_by_role("button", name=re.compile("^Accept"))).to_have_count(0)


def ask_everyone(page: Page, house: House) -> list[str]:
    """The links that went out."""
    page.get_by_role("link", name="Ask the owners").click()
    looks_right(page)
    page.get_by_role("main").get_by_role("button", name="Ask", exact=True).click()
    expect(page.get_by_role("heading", name="Answers", level=1)).to_be_visible()
    looks_right(page)
    last = time.monotonic() + 60
    while time.monotonic() < last:
        texts = [
            body.get_content()
            for mail in house.mails()
            if (body := mail.get_body(("plain",)))
        ]
        links = [
            found[0] for text in texts if (found := re.search(r"\S+/asked/\S+/", text))
        ]
        if links:
            return links
        time.sleep(0.3)
    raise AssertionError("nobody was asked by mail within a minute")


def agree_by_the_mailed_link(phone: Page, links: list[str]) -> None:
    """On an owner's phone, signed in as nobody."""
    phone.goto(links[0])
    looks_right(phone)
    phone.get_by_role("button", name="Another day, please").click()
    expect(phone.get_by_role("heading", name="Another day")).to_be_visible()
    looks_right(phone)
    phone.get_by_role("button", name="Yes, it suits").click()
    expect(phone.get_by_text("noted as agreed")).to_be_visible()
    expect(phone.locator(".notice.good").last).to_contain_text("Agreed")


def call_one_off_and_look_who_could_take_it(page: Page, house: House) -> None:
    page.goto(f"{house.address}/asks/answers/")
    section = page.locator("section").filter(
        has=page.get_by_role("heading", name="Agreed")
    )
    section.get_by_role("link").first.click()
    page.get_by_role("link", name="Call off").click()
    page.get_by_role("button", name="Call it off").click()
    expect(
        page.get_by_role("heading", name=re.compile("Who could take"))
    ).to_be_visible()
    looks_right(page)


def run_today_late_and_print(page: Page, house: House) -> None:
    page.goto(f"{house.address}/today/")
    page.get_by_role("link", name="The round").first.click()
    before = page.locator(".stop .figure strong").last.inner_text()
    late = page.get_by_role("button", name=re.compile("15 minutes more at"))
    late.first.click()
    expect(page.locator(".stop .figure strong").last).not_to_have_text(before)
    page.get_by_role("link", name="Round sheet").click()
    looks_right(page)
    address = page.get_by_role("link", name="PDF to print").get_attribute("href")
    answer = page.request.get(f"{house.address}{address}")
    assert answer.body().startswith(b"%PDF-")

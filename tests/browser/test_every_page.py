"""Every main page of the demo, as each role, on a phone and on a desk.

No page is wider than its screen, each has one heading, a name on every control and no
complaint of the browser; what a thumb has to hit on a phone is large enough.
"""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import (
    DESK,
    PHONE,
    House,
    can_be_used_by_all,
    come_in,
    no_sideways_scroll,
    settled,
    sign_in,
    sign_in_by_link,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]

EVERYONE_OF_THE_PRACTICE = (
    "/today/",
    "/due/",
    "/rounds/",
    "/horses/",
    "/visits/",
    "/clients/",
    "/barns/",
    "/hours/",
    "/account/",
)
BOOKS = (
    "/rounds/book/",
    "/proposals/",
    "/asks/",
    "/asks/answers/",
    "/horses/add/",
    "/horses/works/",
    "/clients/add/",
    "/barns/add/",
    "/areas/",
    "/invoices/",
    "/payments/",
    "/charge-list/",
    "/import/",
    "/messages/",
)
HEAD = ("/settings/", "/users/", "/users/add/", "/start/own/", "/api/")
ROLES = {
    "isla@example.org": (*EVERYONE_OF_THE_PRACTICE, *BOOKS, *HEAD),
    "una@example.org": (*EVERYONE_OF_THE_PRACTICE, *BOOKS),
    "finn@example.org": EVERYONE_OF_THE_PRACTICE,
    "wilma.roxby@example.org": ("/barn-visits/", "/account/"),
    "morag.elsdon@example.org": ("/my/", "/my/invoices/", "/account/"),
}
AT_A_DESK = {"isla@example.org", "morag.elsdon@example.org"}
# The first link of these kinds on a list leads to a page of its own.
DEEPER = {
    "/horses/": r"/horses/\d+/$",
    "/clients/": r"/clients/\d+/$",
    "/barns/": r"/barns/\d+/$",
    "/visits/": r"/visits/[0-9a-f-]{36}/$",
    "/rounds/": r"/rounds/[0-9a-f-]{36}/$",
    "/invoices/": r"/invoices/[0-9a-f-]{36}/$",
    "/my/": r"/my/horses/\d+/$",
    "/my/invoices/": r"/my/invoices/[0-9a-f-]{36}/$",
}
_SMALL = """() => [...document.querySelectorAll(
  '.button, .bar a, .bar summary, .chip, .stepper button, .tabs a, .action-bar button'
)].filter((one) => one.offsetParent && one.checkVisibility()).filter((one) => {
  const box = one.getBoundingClientRect();
  return box.width && (box.height < 43.5 || box.width < 43.5);
}).map((one) => one.outerHTML.slice(0, 120))"""


def password(house: House) -> str:
    """What `up` printed for trying out."""
    found = re.search(r"for trying out only: (.+)", house.said)
    assert found, house.said
    return found[1].strip()


def enter(page: Page, house: House, who: str) -> None:
    if who == "morag.elsdon@example.org":
        sign_in_by_link(page, house, who)
    else:
        come_in(page, house, who, password(house))


def look(page: Page, address: str) -> None:
    response = page.goto(address)
    assert response is not None
    assert response.status == 200, f"{response.status} {address}"
    settled(page)
    no_sideways_scroll(page)
    can_be_used_by_all(page)
    assert page.evaluate(_SMALL) == [], address


def look_at_a_desk(page: Page) -> None:
    """The same page on the other screen, not loaded again."""
    page.set_viewport_size(DESK)
    no_sideways_scroll(page)
    can_be_used_by_all(page)
    page.set_viewport_size(PHONE)


@pytest.mark.parametrize("who", ROLES)
def test_pages_fit_a_phone_a_desk_and_a_thumb(phone: Page, demo_house: House, who: str):
    enter(phone, demo_house, who)
    for path in ROLES[who]:
        look(phone, f"{demo_house.address}{path}")
        if who in AT_A_DESK:
            look_at_a_desk(phone)
        if path in DEEPER:
            links = phone.locator("main a").evaluate_all(
                "links => links.map((link) => new URL(link.href).pathname)"
            )
            deep = next((link for link in links if re.search(DEEPER[path], link)), None)
            assert deep, f"{path} leads to no page of its own"
            look(phone, f"{demo_house.address}{deep}")
            if who in AT_A_DESK:
                look_at_a_desk(phone)


def test_the_menu_opens_and_closes_under_a_thumb(phone: Page, demo_house: House):
    come_in(phone, demo_house, "isla@example.org", password(demo_house))
    phone.goto(f"{demo_house.address}/today/")
    bar = phone.locator("nav.bar")
    expect(bar.locator("> *")).to_have_count(5)
    more = bar.get_by_text("More")
    more.click()
    clients = bar.get_by_role("link", name="Clients")
    expect(clients).to_be_visible()
    phone.keyboard.press("Escape")
    expect(clients).to_be_hidden()
    more.click()
    clients.click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Clients")


def test_a_page_that_is_not_there_says_what_to_do(phone: Page, demo_house: House):
    come_in(phone, demo_house, "isla@example.org", password(demo_house))
    response = phone.goto(f"{demo_house.address}/horses/999999/")
    assert response is not None
    assert response.status == 404
    expect(phone.get_by_role("link", name="Go to the start page")).to_be_visible()
    can_be_used_by_all(phone)


def test_pages_work_without_scripts(demo_house: House, browser):
    """Signing in, filters, booking's reckoning: a form and a button each."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    sign_in(page, demo_house, "isla@example.org", password(demo_house))
    page.goto(f"{demo_house.address}/horses/")
    page.get_by_role("main").get_by_role("searchbox").or_(
        page.get_by_label(re.compile("Name, owner"))
    ).first.fill("Cinder")
    page.get_by_role("main").get_by_role("button").first.click()
    expect(page.get_by_role("main")).to_contain_text("Cinder")
    expect(page.get_by_role("main")).not_to_contain_text("Dumpling")
    page.goto(f"{demo_house.address}/rounds/book/")
    page.locator(".due-horse input").first.check()
    page.get_by_role("button", name="Reckon").click()
    expect(page.get_by_role("main")).to_contain_text("Home at")
    context.close()

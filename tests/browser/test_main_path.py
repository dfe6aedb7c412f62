"""The main job in one go, on a phone: from a spreadsheet to the owner's page.

A practice is opened on an empty installation, its sheet is brought in, a round of five
barns is booked, a visit of four horses is recorded and closed, its invoices are issued
and read, and one owner signs in and sees one horse and nothing else.

The sums that are expected were reckoned by hand: four horses at 75.00, 50.00, 28.00
and 28.00 and a call-out of 20.00, a quarter of it a horse. Nan owns 40 % of the horse
at 50.00 and pays for another, which she doesn't own: 40 % of 55.00 and 33.00. All else
is the school's: 80.00, 60 % of 55.00 and 33.00. Prices carry 20 % VAT: a sixth of each.
"""

import io
import re
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

from tests.browser.conftest import (
    Complaints,
    House,
    can_be_used_by_all,
    no_sideways_scroll,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SHEET = Path(__file__).resolve().parents[1] / "data" / "messy_practice.csv"
FOUR = ("Max", "Chance", "Dotty", "Marble")
BARN = SCHOOL = "Hollin Riding School"
NOWHERE = "The Glebe"  # its rows gave no position
FURTHER = ("Hillend Farm", "Burnfoot Stables", "Mossbank Livery", NOWHERE)
NAN = "Nan Fairholm"
NAN_EMAIL = "nan.fairholm@example.org"
EXPECTED = {SCHOOL: Decimal("146.00"), NAN: Decimal("55.00")}
TAX = {SCHOOL: Decimal("24.33"), NAN: Decimal("9.17")}


def test_from_a_sheet_to_what_the_owner_sees(
    phone: Page,
    browser: Browser,
    browser_context_args: dict,
    complaints: Complaints,
    empty_house: House,
):
    page = phone
    open_the_practice(page, empty_house)
    bring_the_sheet_in(page, empty_house)
    set_the_call_out(page, empty_house)
    share_one_horse_and_name_a_payer(page, empty_house)
    see_who_is_due(page, empty_house)
    book_five_barns(page, empty_house)
    record_four_horses(page)
    numbers = close_and_issue(page)
    read_the_pdfs(page, empty_house, numbers)
    record_a_payment(page, empty_house)
    see_the_next_visit(page, empty_house)
    others = horses_of_others(page, empty_house)
    invite(page, empty_house)
    context = browser.new_context(**browser_context_args)
    complaints.watch(context)
    see_as_owner(context.new_page(), empty_house, others)
    context.close()


def looks_right(page: Page) -> None:
    no_sideways_scroll(page)
    can_be_used_by_all(page)


def press(page: Page, name: str, *, exact: bool = True) -> None:
    page.get_by_role("button", name=name, exact=exact).first.click()


def open_the_practice(page: Page, house: House) -> None:
    page.goto(house.address)
    expect(page.get_by_role("heading", level=1)).to_have_text("Start a practice")
    page.get_by_label("Name of the practice").fill("Gorsebank Forge")
    page.get_by_label("Country", exact=True).select_option("GB")
    page.get_by_label("Registered for VAT").check()
    page.get_by_label("Tax registration number").fill("GB000000000")
    page.get_by_label("Position of home").fill("55.6170, -2.8070")
    page.get_by_label("Your name").fill("Effie Gorse")
    page.get_by_label("Your e-mail").fill("effie@example.org")
    page.get_by_label("A password").fill("anvil horn and hardy")
    looks_right(page)
    press(page, "Start the practice")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Gorsebank Forge")
    looks_right(page)


def bring_the_sheet_in(page: Page, house: House) -> None:
    page.goto(f"{house.address}/import/")
    looks_right(page)
    page.locator("input[type=file]").set_input_files(SHEET)
    press(page, "Send the sheet", exact=False)
    expect(page.get_by_role("main")).to_contain_text("What each column was taken for")
    looks_right(page)
    press(page, "Look at what comes in", exact=False)
    main = page.get_by_role("main")
    expect(main).to_contain_text("31/09/2026")  # a bad row, with its value
    looks_right(page)
    page.get_by_role("button", name=re.compile(r"Bring \d+ rows in")).click()
    expect(main).to_contain_text("Brought in on")
    looks_right(page)
    page.goto(f"{house.address}/horses/")
    expect(page.get_by_role("main")).to_contain_text("Chance")
    looks_right(page)


def set_the_call_out(page: Page, house: House) -> None:
    page.goto(f"{house.address}/charge-list/")
    page.get_by_label("Call-out", exact=False).first.fill("20.00")
    looks_right(page)
    press(page, "Save the prices")
    expect(page.get_by_label("Call-out", exact=False).first).to_have_value("20.00")


def horse_page(page: Page, house: House, name: str) -> None:
    page.goto(f"{house.address}/horses/?q={name}")
    page.get_by_role("main").get_by_role("link", name=re.compile(rf"^{name}\b")).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(name)


def share_one_horse_and_name_a_payer(page: Page, house: House) -> None:
    """Chance is owned 60 to 40; Nan pays for Dotty without owning any of it."""
    page.goto(f"{house.address}/clients/add/")
    page.get_by_label("Name", exact=False).first.fill(NAN)
    page.get_by_label("E-mail").fill(NAN_EMAIL)
    looks_right(page)
    press(page, "Save")
    expect(page.get_by_role("heading", level=1)).to_have_text(NAN)

    horse_page(page, house, "Chance")
    looks_right(page)
    page.get_by_role("link", name="Owners", exact=True).click()
    page.get_by_label("Owner 1").select_option(label=SCHOOL)
    page.get_by_label("Share").nth(0).fill("60")
    page.get_by_label("Owner 2").select_option(label=NAN)
    page.get_by_label("Share").nth(1).fill("30")
    press(page, "Save the owners")
    expect(page.locator(".error, .error-summary").first).to_be_visible()
    expect(page.get_by_label("Owner 2")).not_to_have_value("")
    page.get_by_label("Share").nth(1).fill("40")
    press(page, "Save the owners")
    expect(page.get_by_role("main")).to_contain_text(NAN)

    horse_page(page, house, "Dotty")
    page.get_by_role("link", name="Payer", exact=True).click()
    page.get_by_role("main").locator("select").first.select_option(label=NAN)
    looks_right(page)
    press(page, "Save")
    expect(page.get_by_role("main")).to_contain_text(NAN)


def see_who_is_due(page: Page, house: House) -> None:
    page.goto(f"{house.address}/due/")
    expect(page.get_by_role("main")).to_contain_text("Hollin Riding School")
    looks_right(page)


def _barn(page: Page, name: str):
    return page.locator(".due-barn", has=page.get_by_role("heading", name=name))


def book_five_barns(page: Page, house: House) -> None:
    """Four horses at the first barn, one at each of four more."""
    today = timezone.localdate(timezone=ZoneInfo("Europe/London"))
    page.goto(f"{house.address}/rounds/book/?day={today}")
    page.get_by_label("Day", exact=True).fill(str(today))
    for horse in FOUR:
        _barn(page, BARN).get_by_role(
            "checkbox", name=re.compile(rf"^{horse}\b")
        ).check()
    for barn in FURTHER:
        _barn(page, barn).locator(".due-horse input").first.check()
    _barn(page, NOWHERE).locator("input[name^=typed_]").first.fill("25")
    press(page, "Reckon", exact=False)
    expect(page.locator(".order > li")).to_have_count(7)
    expect(page.locator("#outlook svg.road-map")).to_be_visible()
    looks_right(page)
    press(page, "Book the round", exact=False)
    expect(page.locator("li.stop")).to_have_count(5)
    looks_right(page)
    page.goto(f"{house.address}/due/")
    expect(page.get_by_role("main")).not_to_contain_text("Chance")
    page.goto(f"{house.address}/rounds/")
    page.locator("main a[href*='/rounds/0']").first.click()


def record_four_horses(page: Page) -> None:
    stop = page.locator("li.stop", has=page.get_by_role("heading", name=BARN))
    stop.get_by_role("button", name="Start visit").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(BARN)
    looks_right(page)
    for horse in FOUR:
        page.get_by_role("main").get_by_role(
            "link", name=re.compile(rf"^{horse}\b")
        ).first.click()
        expect(page.get_by_role("heading", level=1)).to_contain_text(horse)
        looks_right(page)
        record(page, horse)
    expect(page.get_by_role("main")).to_contain_text("All horses are recorded")


def record(page: Page, horse: str) -> None:
    left = page.locator("#LF")
    left.get_by_role("textbox", name=re.compile("^Toe length")).first.fill("84")
    left.get_by_role("button", name="More Toe angle").first.click()
    left.get_by_role("radio", name="trim", exact=True).check()
    if horse == "Chance":
        left.get_by_role("checkbox", name="thrush", exact=True).check()
    press(page, "Save, back to the barn")
    expect(page.get_by_role("heading", level=1)).to_contain_text(BARN)


def see_the_next_visit(page: Page, house: House) -> None:
    """What was recorded and closed has moved the horse's window."""
    page.goto(f"{house.address}/horses/?search=Dotty")
    page.get_by_role("main").get_by_role("link", name=re.compile("^Dotty")).click()
    story = page.locator("#next-visit")
    expect(story).to_contain_text("best")
    expect(story).to_contain_text("What would change it")
    expect(story.locator("svg.due-chart")).to_be_visible()
    looks_right(page)


def close_and_issue(page: Page) -> dict[str, str]:
    """Numbers of the issued invoices by payer."""
    press(page, "Close and draft the invoices")
    expect(page.locator(".card.payer")).to_have_count(2)
    looks_right(page)
    for payer, due in EXPECTED.items():
        card = page.locator(".card.payer", has_text=payer)
        expect(card).to_contain_text(f"£{due:,}")
    press(page, "Issue all", exact=False)
    expect(page.get_by_role("link", name="PDF")).to_have_count(2)
    numbers = {}
    for payer in EXPECTED:
        card = page.locator(".card.payer", has_text=payer)
        found = re.search(r"\S+-\d+", card.locator(".card-head").inner_text())
        assert found
        numbers[payer] = found[0]
    assert len(set(numbers.values())) == 2
    return numbers


def read_the_pdfs(page: Page, house: House, numbers: dict[str, str]) -> None:
    """Each holds its number, payer, sum and tax, and is the same a second time."""
    for payer, due in EXPECTED.items():
        card = page.locator(".card.payer", has_text=payer)
        address = card.get_by_role("link", name="PDF").get_attribute("href")
        first = page.request.get(f"{house.address}{address}", timeout=60_000)
        assert first.ok
        text = "\n".join(
            sheet.extract_text() for sheet in PdfReader(io.BytesIO(first.body())).pages
        )
        for wanted in (numbers[payer], payer, f"{due:,}", f"{TAX[payer]:,}"):
            assert wanted in text, wanted
        assert page.request.get(f"{house.address}{address}").body() == first.body()


def record_a_payment(page: Page, house: House) -> None:
    card = page.locator(".card.payer", has_text=NAN)
    card.get_by_role("link", name="Record payment").click()
    looks_right(page)
    page.get_by_role("radio", name="cash").check()
    press(page, "Record the payment")
    page.wait_for_url(lambda url: "/payments/new/" not in url)
    looks_right(page)
    page.goto(f"{house.address}/invoices/")
    row = page.locator(".rows a", has_text=NAN)
    expect(row.locator(".state")).to_have_text("paid")
    looks_right(page)


def horses_of_others(page: Page, house: House) -> list[str]:
    page.goto(f"{house.address}/horses/?q=Max")
    link = page.get_by_role("main").get_by_role("link", name=re.compile("^Max"))
    address = link.first.get_attribute("href")
    assert address
    return [address, address.replace("/horses/", "/my/horses/")]


def invite(page: Page, house: House) -> None:
    page.goto(f"{house.address}/clients/?q=Fairholm")
    page.get_by_role("main").get_by_role("link", name=re.compile(NAN)).click()
    press(page, "Let them sign in", exact=False)
    expect(page.get_by_role("main")).to_contain_text("invited")


def see_as_owner(page: Page, house: House, others: list[str]) -> None:
    text = house.wait_for_mail(NAN_EMAIL, "/sign-in/link/")
    found = re.search(r"https?://\S+/sign-in/link/[\w-]+/?", text)
    assert found
    page.goto(found[0])
    page.get_by_role("main").get_by_role("button").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("My horses")
    looks_right(page)
    cards = page.locator("a.horse-link")
    expect(cards).to_have_count(1)
    expect(cards).to_contain_text("Chance")
    expect(page.get_by_role("main")).to_contain_text("40")
    cards.click()
    expect(page.get_by_role("main")).to_contain_text("thrush")
    expect(page.get_by_role("main").locator("svg").first).to_be_visible()
    looks_right(page)

    page.goto(f"{house.address}/my/invoices/")
    rows = page.locator(".rows a")
    expect(rows).to_have_count(1)
    expect(rows).to_contain_text(f"£{EXPECTED[NAN]}")
    rows.click()
    looks_right(page)
    pdf = page.get_by_role("link", name="PDF").first.get_attribute("href")
    assert page.request.get(f"{house.address}{pdf}").body().startswith(b"%PDF")

    assert page.request.get(f"{house.address}{others[0]}").status in (403, 404)
    assert page.request.get(f"{house.address}{others[1]}").status == 404
    for path in ("/today/", "/due/", "/clients/", "/invoices/", "/settings/"):
        assert page.request.get(f"{house.address}{path}").status == 403, path
    page.goto(f"{house.address}/my/")
    for other in ("Max", "Marble", "Dotty"):
        expect(page.locator("body")).not_to_contain_text(other)

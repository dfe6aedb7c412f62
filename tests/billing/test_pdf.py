"""The invoice on paper: everything is on it, on one page, on the right paper."""

import io
from datetime import date
from decimal import Decimal

import pypdf
import pytest

from billing import pdf
from billing.models import Invoice
from billing.services.credit import credit_in_full
from billing.services.invoices import issue_invoice
from billing.services.lines import NewLine, add_line, set_note
from tests import factories

TODAY = date(2026, 11, 25)
A4_MM, LETTER_MM = (210, 297), (216, 279)


@pytest.fixture
def issued(practice):
    practice.iban, practice.invoice_terms = "GB00DEMO00000000000000", "Thank you."
    practice.save(update_fields=["iban", "invoice_terms"])
    client = factories.make_client(name="Gwendolyn Øster-Ångström")
    draft = Invoice.objects.create(client=client, currency="GBP")
    for number in range(6):
        add_line(
            invoice=draft,
            by=None,
            line=NewLine(
                name=f"Horse {number}: Full set",
                unit_price=Decimal("95.00"),
                quantity=Decimal(2 if number else 1),
            ),
        )
    set_note(invoice=draft, by=None, note="Mind the gate.")
    return issue_invoice(invoice=draft, by=None, today=TODAY)


def pages(snapshot):
    content = pdf.invoice_pdf(snapshot, identifier=b"x" * 16)
    return pypdf.PdfReader(io.BytesIO(content)).pages


def text_of(snapshot):
    return " ".join("".join(page.extract_text() for page in pages(snapshot)).split())


def size_mm(page):
    return tuple(
        round(float(side) * 25.4 / 72)
        for side in (page.mediabox.width, page.mediabox.height)
    )


def test_what_the_law_asks_for_is_on_it(issued):
    """Directive 2006/112/EC, art. 226: number, days, both parties, what, net, rate, tax."""
    text = text_of(issued.snapshot)
    for said in (
        *("INV-00001", "Wed 25 Nov 2026", "Wed 9 Dec 2026", "Test Forge"),
        *("VAT no. GB123456789", "Gwendolyn Øster-Ångström", "1 Anvil Row"),
        *("Testbridge TD1 1AA", "Horse 5: Full set", "20 %", "£1,045.00"),
        *("£209.00", "£1,254.00", "GB00 DEMO 0000 0000 0000 00", "Mind the gate."),
        *("Thank you.", "Page 1 of 1"),
    ):
        assert said in text, said


def test_a_missing_town_leaves_no_stray_comma(issued):
    parties = {
        party: issued.snapshot[party] | {"town": "", "post_code": ""}
        for party in ("seller", "buyer")
    }
    parties["buyer"]["country"] = "FR"
    assert ", GB" not in text_of(issued.snapshot | parties)
    assert ", FR" not in text_of(issued.snapshot | parties)
    whole = {"seller": parties["seller"] | {"town": "Kelso"}}
    assert "Kelso, GB" in text_of(issued.snapshot | whole)


def test_one_page_is_enough_for_six_lines_on_both_papers(issued):
    (page,) = pages(issued.snapshot)
    assert size_mm(page) == A4_MM
    seller = {**issued.snapshot["seller"], "country": "US"}
    (page,) = pages({**issued.snapshot, "seller": seller})
    assert size_mm(page) == LETTER_MM


def test_a_long_invoice_runs_over_with_its_head_and_page_numbers(issued):
    lines = issued.snapshot["lines"] * 12
    text = text_of({**issued.snapshot, "lines": lines})
    assert "Page 3 of 3" in text
    assert text.count("Quantity") == 3


def test_a_credit_note_names_its_invoice_and_asks_for_no_money(issued):
    note = credit_in_full(invoice=issued, by=None, today=TODAY, reason="Wrong payer")
    text = text_of(note.snapshot)
    assert "CN-00001" in text
    assert "Credits invoice INV-00001 of 25 Nov 2026" in text
    assert "Wrong payer" in text
    assert "How to pay" not in text.title()


def test_an_untaxed_invoice_says_why(practice):
    practice.tax_registered = False
    practice.save(update_fields=["tax_registered"])
    draft = Invoice.objects.create(client=factories.make_client(), currency="GBP")
    add_line(
        invoice=draft, by=None, line=NewLine(name="Work", unit_price=Decimal("40.00"))
    )
    issued = issue_invoice(invoice=draft, by=None, today=TODAY)
    assert "Not registered for VAT." in text_of(issued.snapshot)
    assert "GB123456789" not in text_of(issued.snapshot)


def test_the_same_snapshot_gives_the_same_bytes(issued):
    first, second = (
        pdf.invoice_pdf(issued.snapshot, identifier=b"y" * 16) for _ in range(2)
    )
    assert first == second


def test_markup_in_a_name_stays_text(issued):
    buyer = {**issued.snapshot["buyer"], "name": "<b>Bold</b> & Sons"}
    assert "<b>Bold</b> & Sons" in text_of({**issued.snapshot, "buyer": buyer})

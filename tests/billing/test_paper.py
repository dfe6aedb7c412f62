"""What leaves the house on paper or as a file, from the database to the reader."""

import io
from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse
from lxml import etree
from PIL import Image

from billing.models import Invoice, Logo, PaperSettings, Rendition
from billing.selectors import receipt_data, statement_data
from billing.services import renditions
from billing.services.credit import credit_in_full
from billing.services.invoices import issue_invoice
from billing.services.lines import NewLine, add_line
from billing.services.paper import change_paper
from billing.services.payments import record_payment
from billing.words import words
from practice.errors import Refused
from practice.keys import uuid7
from practice.models import Message
from tests import factories
from tests.billing.reading import on_the_page, page_text, same_as_database, squeezed

TODAY = date(2026, 11, 25)
IBAN = "DE75512108001245126199"  # the European Payments Council's sample


def issued(client, *prices, currency="GBP", **over):
    draft = Invoice.objects.create(client=client, currency=currency, **over)
    for number, price in enumerate(prices):
        add_line(
            invoice=draft,
            by=None,
            line=NewLine(
                name=f"Horse {number}: Full set",
                unit_price=Decimal(price),
                quantity=Decimal(number + 1),
            ),
        )
    return issue_invoice(invoice=draft, by=None, today=TODAY)


@pytest.fixture
def in_euros(practice):
    for name, value in {
        "country": "DE",
        "currency": "EUR",
        "tax_regime": "DE",
        "tax_number": "DE123456789",
        "iban": IBAN,
        "language": "de",
    }.items():
        setattr(practice, name, value)
    practice.save()
    return practice


def picture(kind="PNG", size=(300, 120)):
    out = io.BytesIO()
    Image.new("RGBA" if kind == "PNG" else "RGB", size, "red").save(out, kind)
    out.seek(0)
    return out


def test_an_independent_reader_finds_what_the_database_has(practice):
    """Six kinds of document (two hundred: benchmarks/read_back)."""
    client = factories.make_client(name="Désirée Ćwiękała-O’Brien")
    papers = [
        issued(client, "95.00"),
        issued(client, "95.00", "12.34", "0.33"),
        issued(client, "10.01", "47.49", prices_include_tax=True),
        issued(client, *["33.33"] * 12),
        issued(client, "100.00", kind="386"),
    ]
    papers.append(
        credit_in_full(invoice=papers[1], by=None, today=TODAY, reason="Wrong payer")
    )
    for paper in papers:
        paper.refresh_from_db()
        content = renditions.read(renditions.render(invoice=paper))
        same_as_database(paper, content)
        assert on_the_page(content, words("en")) > 10


def test_in_euros_page_xml_and_mail_name_the_creditor_reference(in_euros):
    payer = factories.make_client(country="DE", email="a@example.org")
    paper = issued(payer, "95.00", currency="EUR")
    content = renditions.read(renditions.render(invoice=paper))
    found = same_as_database(paper, content)
    reference = paper.snapshot["payment"]["rf"]
    assert found["BT-83"] == reference
    assert reference in page_text(content)
    body = Message.objects.get(kind="invoice").body
    assert "Zahlbar bis: 9. Dezember 2026" in " ".join(body.split())
    assert reference in body.replace(" ", "")


def test_the_paper_speaks_the_client_s_language(practice):
    client = factories.make_client(language="fr")
    paper = issued(client, "1095.00")
    text = page_text(renditions.read(renditions.render(invoice=paper)))
    assert squeezed("Facturé à") in text.replace("FACTURÉÀ", "Facturéà")
    assert squeezed("1 314,00 £") in text


def test_downloads_are_made_once_and_stay(client, practice):
    paper = issued(factories.make_client(), "95.00")
    client.force_login(factories.make_user("office"))
    for kind, root in (("cii", "CrossIndustryInvoice"), ("ubl", "Invoice")):
        address = reverse("billing:invoice_xml", args=[paper.pk, kind])
        answer = client.get(address)
        assert answer["Content-Type"] == "application/xml"
        assert answer["Content-Disposition"].startswith("attachment")
        assert etree.QName(etree.fromstring(answer.content)).localname == root
        assert client.get(address).content == answer.content
    assert Rendition.objects.filter(invoice=paper).count() == 2
    address = reverse("billing:invoice_xml", args=[paper.pk, "pdf"])
    assert client.get(address).status_code == 404
    assert "UBL (XML)" in client.get(reverse("billing:invoice", args=[paper.pk])).text


def test_where_there_can_be_no_e_invoice_the_page_says_why(client, practice):
    practice.country = "US"
    practice.save(update_fields=["country"])
    paper = issued(factories.make_client(), "95.00")
    client.force_login(factories.make_user("office"))
    page = client.get(reverse("billing:invoice", args=[paper.pk])).text
    assert "outside the European VAT systems" in page
    answer = client.get(reverse("billing:invoice_xml", args=[paper.pk, "ubl"]))
    assert answer.status_code == 422


def test_a_draft_warns_of_signs_that_no_font_has(client, practice):
    draft = Invoice.objects.create(
        client=factories.make_client(name="Жанна"), currency="GBP"
    )
    client.force_login(factories.make_user("office"))
    page = client.get(reverse("billing:invoice", args=[draft.pk])).text
    assert "Ж а н" in page


def test_the_owner_pays_what_is_open_not_what_was_due(client, in_euros):
    owner = factories.make_owner()
    change_paper(
        by=None,
        size="",
        draws_feet=False,
        pay_link="https://pay.example.org/forge?ref={number}&sum={amount}",
    )
    paper = issued(owner.client, "100.00", currency="EUR")
    record_payment(
        key=uuid7(),
        client=owner.client,
        amount=Decimal("19.00"),
        method="cash",
        day=TODAY,
        by=None,
    )
    client.force_login(owner)
    page = client.get(reverse("billing:my_invoice", args=[paper.pk])).text
    assert f"?ref={paper.number}&amp;sum=100.00" in page
    assert 'class="qr"' in page
    assert "Pay online" in page
    assert f"sum={paper.due}" in paper.snapshot["payment"]["link"]


def test_the_wishes_hold_for_what_is_issued_after_them(client, practice):
    head = factories.make_user("farrier", runs_practice=True)
    before = issued(factories.make_client(), "95.00")
    client.force_login(head)
    answer = client.post(
        reverse("billing:paper"),
        {
            "size": "letter",
            "draws_feet": "on",
            "pay_link": "https://pay.example.org/{number}",
            "logo": picture(),
        },
    )
    assert answer.status_code == 302
    after = issued(factories.make_client(), "95.00")
    logo = Logo.objects.get()
    assert after.snapshot["paper"] == {
        "size": "letter",
        "logo": logo.sha256,
        "feet": True,
    }
    assert before.snapshot["paper"]["logo"] == ""
    assert bytes(logo.content).startswith(b"\xff\xd8")  # a JPEG of our own making
    content = renditions.read(renditions.render(invoice=after))
    assert b"/DCTDecode" in content
    assert client.get(reverse("billing:logo")).content == bytes(logo.content)
    client.post(reverse("billing:paper"), {"drops_logo": "on"})
    assert PaperSettings.objects.get().logo is None
    assert Logo.objects.count() == 1  # what was issued with it names it


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({"pay_link": "http://pay.example.org/"}, "begins with https"),
        ({"logo": io.BytesIO(b"<svg onload=alert(1)>")}, "no photo"),
        ({"size": "A3"}, "valid choice"),
    ],
)
def test_bad_wishes_are_refused_beside_their_field(client, practice, typed, why):
    client.force_login(factories.make_user("farrier", runs_practice=True))
    answer = client.post(reverse("billing:paper"), {"draws_feet": "on", **typed})
    assert answer.status_code == 422
    assert why in answer.text
    assert not PaperSettings.objects.filter(draws_feet=True).exists()


def test_a_service_checks_the_link_itself(practice):
    with pytest.raises(Refused, match="https"):
        change_paper(by=None, size="", draws_feet=False, pay_link="ftp://x.example.org")


def test_a_receipt_says_what_it_paid_and_what_stays_open(client, practice):
    payer = factories.make_client()
    paper = issued(payer, "100.00")
    paid = record_payment(
        key=uuid7(),
        client=payer,
        amount=Decimal("50.00"),
        method="cash",
        day=TODAY,
        by=None,
    )
    data = receipt_data(paid)
    assert data["parts"] == [
        {
            "number": paper.number,
            "issue_day": TODAY,
            "amount": Decimal("50.00"),
            "open": Decimal("70.00"),
        }
    ]
    assert data["left"] == 0
    client.force_login(factories.make_user("office"))
    text = page_text(client.get(reverse("billing:receipt", args=[paid.pk])).content)
    for said in ("£50.00", "£70.00 still open", paper.number, "cash"):
        assert squeezed(said) in text


def test_a_statement_runs_from_the_opening_to_what_is_owed(client, practice):
    payer = factories.make_client()
    first, second = issued(payer, "100.00"), issued(payer, "50.00")
    record_payment(
        key=uuid7(),
        client=payer,
        amount=Decimal("120.00"),
        method="transfer",
        day=TODAY,
        by=None,
    )
    data = statement_data(payer, first=TODAY, last=TODAY)
    assert [(e["what"], e["amount"], e["balance"]) for e in data["entries"]] == [
        ("invoice", Decimal("120.00"), Decimal("120.00")),
        ("invoice", Decimal("60.00"), Decimal("180.00")),
        ("payment", Decimal("-120.00"), Decimal("60.00")),
    ]
    assert data["closing"] == 60
    assert [one["number"] for one in data["open"]] == [second.number]
    later = statement_data(payer, first=date(2027, 1, 1), last=date(2027, 2, 1))
    assert (later["opening"], later["closing"], later["entries"]) == (60, 60, [])
    assert later["aged"] == [0, 0, Decimal("60.00"), 0, 0]
    client.force_login(factories.make_user("office"))
    address = reverse("billing:statement", args=[payer.pk])
    days = {"first": "2026-11-01", "last": "2026-11-30"}
    text = page_text(client.get(address, days).content)
    for said in (first.number, "You owe", "£60.00"):
        assert squeezed(said) in text
    assert client.get(address, {"first": "soon"}).status_code == 422
    backward = {"first": "2026-12-01", "last": "2026-11-30"}
    assert client.get(address, backward).status_code == 422


def test_an_owner_gets_no_one_else_s_files(client, practice):
    theirs = factories.make_client()
    paper = issued(theirs, "10.00")
    paid = record_payment(
        key=uuid7(),
        client=theirs,
        amount=Decimal("5.00"),
        method="cash",
        day=TODAY,
        by=None,
    )
    client.force_login(factories.make_owner())
    for address in (
        reverse("billing:my_invoice_xml", args=[paper.pk, "ubl"]),
        reverse("billing:my_receipt", args=[paid.pk]),
        reverse("billing:api_invoice_xml", args=[paper.pk, "ubl"]),
        reverse("billing:api_receipt", args=[paid.pk]),
    ):
        assert client.get(address).status_code == 404, address

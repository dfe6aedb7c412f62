"""From issue to the mailbox: the outbox makes the PDF and sends it, once."""

import re
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.core import mail
from django.urls import reverse
from django.utils import timezone

from billing.models import Invoice, Payment, Rendition
from billing.services import renditions
from billing.services.collecting import set_collecting
from billing.services.credit import credit_in_full
from billing.services.invoices import issue_invoice
from billing.services.lines import NewLine, add_line
from billing.services.payments import reverse_payment
from billing.services.receipts import send_receipt
from practice import outbox
from practice.errors import Refused
from practice.keys import uuid7
from practice.models import Message
from practice.pdf import PdfUnavailable
from tests import factories
from tests.billing.books import pay

TODAY = date(2026, 11, 25)


@pytest.fixture
def issued(practice):
    client = factories.make_client(name="Elspeth", email="elspeth@example.org")
    draft = Invoice.objects.create(client=client, currency="GBP")
    add_line(
        invoice=draft, by=None, line=NewLine(name="Work", unit_price=Decimal("40.00"))
    )
    return issue_invoice(invoice=draft, by=None, today=TODAY)


def test_the_client_gets_the_stored_pdf_by_mail_once(issued):
    outbox.drain()
    outbox.drain()
    (sent,) = mail.outbox
    assert sent.to == ["elspeth@example.org"]
    assert sent.subject == "Invoice INV-00001 from Test Forge"
    # RFC 5322, 3.6.4: a dot-atom on either side of the @.
    atoms = r"[\w!#$%&'*+/=?^`{|}~.-]+"
    assert re.fullmatch(f"<{atoms}@{atoms}>", sent.extra_headers["Message-ID"])
    assert "Amount due: £48.00" in sent.body
    assert "Pay by: Wed\u00a09\u00a0Dec\u00a02026" in sent.body
    ((name, content, kind),) = sent.attachments
    stored = renditions.read(Rendition.objects.get())
    assert (name, content, kind) == ("INV-00001.pdf", stored, "application/pdf")


def test_a_credit_note_is_sent_too_and_names_the_invoice(issued):
    credit_in_full(invoice=issued, by=None, today=TODAY, reason="Wrong payer")
    outbox.drain()
    assert [sent.subject for sent in mail.outbox] == [
        "Invoice INV-00001 from Test Forge",
        "Credit note CN-00001 from Test Forge",
    ]
    assert "over £48.00, which credits invoice INV-00001." in mail.outbox[1].body


def test_only_an_owner_with_a_way_in_is_told_where_to_look(practice):
    owner = factories.make_owner()
    for client in (owner.client, factories.make_client()):
        draft = Invoice.objects.create(client=client, currency="GBP")
        add_line(
            invoice=draft,
            by=None,
            line=NewLine(name="Work", unit_price=Decimal("40.00")),
        )
        issue_invoice(invoice=draft, by=None, today=TODAY)
    told, untold = Message.objects.filter(kind="invoice").order_by("pk")
    assert "/my/invoices/" in told.body
    assert "/my/invoices/" not in untold.body


def test_a_receipt_is_mailed_once_in_the_clients_language(as_office, practice):
    """Asked for with the payment, and by the button, twice."""
    client = factories.make_client(
        name="Jana Roth", language="de", email="j@example.org"
    )
    key = uuid7()
    form = {"key": key, "amount": "40", "method": "cash", "receipt": "on"}
    form["day"] = timezone.localdate().isoformat()
    for _ in range(2):
        page = as_office.post(
            reverse("billing:payment_new", args=[client.pk]), form, follow=True
        )
        as_office.post(reverse("billing:receipt_mail", args=[key]))
    assert "The receipt goes to j@example.org." in page.text
    outbox.drain()
    (sent,) = mail.outbox
    assert sent.subject.startswith("Quittung ")
    assert "Anbei die Quittung über Ihre Zahlung von 40,00" in sent.body
    ((name, content, _),) = sent.attachments
    assert name.startswith("receipt-")
    assert content.startswith(b"%PDF-")
    shown = as_office.get(reverse("billing:payment", args=[key])).text
    assert "to j@example.org: sent" in shown
    assert "Send the receipt" not in shown


def test_no_receipt_of_what_was_taken_out_of_the_books(practice):
    payer = factories.make_client()
    payment = pay(payer, "5.00", receipt=True)
    reverse_payment(payment=payment, by=None, today=TODAY, reason="bounced")
    assert Message.objects.get(kind="receipt").state == Message.State.LET_GO
    other = pay(payer, "6.00")
    reverse_payment(payment=other, by=None, today=TODAY, reason="bounced")
    with pytest.raises(Refused, match="taken out of the books"):
        send_receipt(payment=other)
    silent = factories.make_client(email="")
    with pytest.raises(Refused, match="no e-mail address"):
        pay(silent, "5.00", receipt=True)
    assert not Payment.objects.filter(client=silent).exists()


def test_the_practice_s_wish_ticks_the_form(as_office, practice):
    client = factories.make_client()
    address = reverse("billing:payment_new", args=[client.pk])
    ticked = re.compile('name="receipt"[^>]*checked')
    assert not ticked.search(as_office.get(address).text)
    set_collecting(
        by=None, nudges_on=False, days_before=3, late_law="", receipts_on=True
    )
    assert ticked.search(as_office.get(address).text)


def test_without_pdf_libraries_the_mail_waits_and_says_why(issued, monkeypatch):
    def lacking(*args, **kwargs):
        raise PdfUnavailable("pango missing. Install with: …")

    monkeypatch.setattr("billing.pdf.invoice_pdf", lacking)
    outbox.drain()
    assert mail.outbox == []
    waiting = Message.objects.get(kind="invoice")
    assert waiting.state == Message.State.READY
    assert "pango missing" in waiting.answer


def test_a_name_with_an_apostrophe_stands_as_it_is_in_the_subject(practice, issued):
    practice.name = "O'Hara & Daughter"
    practice.save(update_fields=["name"])
    credit_in_full(invoice=issued, by=None, today=TODAY, reason="Wrong payer")
    subject = Message.objects.filter(kind="invoice").order_by("pk").last().subject
    assert subject == "Credit note CN-00001 from O'Hara & Daughter"


def test_what_is_sold_in_the_evening_is_dated_by_the_practice_s_day(practice):
    """21:30 on Tuesday in Vermont is Wednesday in UTC."""
    practice.time_zone = "America/New_York"
    practice.save(update_fields=["time_zone"])
    client = factories.make_client()
    draft = Invoice.objects.create(client=client, currency="GBP")
    draft.created_at = datetime(2026, 11, 25, 2, 30, tzinfo=UTC)
    draft.save(update_fields=["created_at"])
    wish = NewLine(name="Hoof pick", unit_price=Decimal("6.00"))
    assert add_line(invoice=draft, by=None, line=wish).service_day == date(2026, 11, 24)

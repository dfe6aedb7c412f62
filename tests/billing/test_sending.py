"""From issue to the mailbox: the outbox makes the PDF and sends it, once."""

import re
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.core import mail

from billing.models import Invoice, Rendition
from billing.services import renditions
from billing.services.credit import credit_in_full
from billing.services.invoices import issue_invoice
from billing.services.lines import NewLine, add_line
from practice import outbox
from practice.models import Message
from practice.pdf import PdfUnavailable
from tests import factories

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

"""Issuing: a number, a frozen snapshot, the ledger's entry, the PDF and the mail
queued, all in one transaction.
"""

import logging
from datetime import date, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import F
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from billing.models import Invoice, InvoiceLine, Sequence
from billing.selectors import regime_of
from billing.services.ledger import book_document, lock_clients, lock_invoice
from billing.services.lines import locked_draft
from billing.services.snapshots import build, digest
from billing.services.totals import lacks_rate, put_nets, put_tax, refresh_totals
from billing.words.letters import letter
from horses.models import Visit
from practice import outbox
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change

logger = logging.getLogger(__name__)

SERIES = {
    Invoice.Kind.INVOICE: "INV",
    Invoice.Kind.CREDIT_NOTE: "CN",
    Invoice.Kind.PREPAYMENT: "PRE",
}
"""A series of numbers per kind of document."""


@transaction.atomic
def issue_invoice(*, invoice: Invoice, by: User | None, today: date) -> Invoice:
    """Gives the draft its number and freezes it; queues the PDF and, where the client
    has an address, the e-mail. Issuing again returns the issued document.

    Raises:
        Refused: no lines, a line without price or rate, less than nothing due, no tax
            number, discarded, or a day before the last number's.
    """
    row = lock_invoice(invoice.pk)
    if row.is_issued:
        return row
    row = locked_draft(row)
    practice = Practice.objects.the_one()
    lines = _checked_lines(row, practice)
    if row.due < 0:
        raise Refused(
            "Less than nothing is due. Take the lines off that are too much, or credit "
            "the invoice that they mend."
        )
    return _issue(row, lines, practice, by=by, today=today)


def issue_locked(note: Invoice, *, by: User | None, today: date) -> Invoice:
    """Issues a document that the caller's transaction has just made, its client and
    what it corrects being locked."""
    lines = list(note.lines.select_related("horse").order_by("position"))
    return _issue(note, lines, Practice.objects.the_one(), by=by, today=today)


def _checked_lines(invoice: Invoice, practice: Practice) -> list[InvoiceLine]:
    lines = list(invoice.lines.select_related("horse").order_by("position"))
    if not lines:
        raise Refused("There is nothing on it yet: add a line, or discard the draft.")
    for line in lines:
        if lacks_rate(line):
            _take_rate(invoice, line, practice)
        if line.needs_price:
            raise Refused(f"“{line.name}” has no price yet: set one, 0 if it is free.")
    is_taxed = any(line.tax_category == "S" for line in lines)
    regime = regime_of(practice)
    if is_taxed and regime.needs_number and not practice.tax_number:
        raise Refused(
            f"An invoice with {regime.tax_word} must bear the practice's tax number: "
            "enter it in the practice's settings."
        )
    refresh_totals(invoice=invoice)
    invoice.allowances.filter(amount=0).delete()  # they found nothing to be taken from
    return lines


def _take_rate(invoice: Invoice, line: InvoiceLine, practice: Practice) -> None:
    """A rate that was entered after the draft was made."""
    put_tax(line, practice, line.tax_code)
    if lacks_rate(line):
        raise Refused(
            f"“{line.name}” is taxed, but the rate is not entered yet: set it on the "
            "charge list's page."
        )
    line.needs_price = not line.unit_price  # nobody has priced it either
    put_nets(invoice, [line])  # a price with tax has another net now
    line.save(
        update_fields=[
            *("needs_price", "net", "tax_category", "tax_percent"),
            *("tax_reason_code", "tax_reason", "changed_at"),
        ]
    )


def _issue(
    invoice: Invoice,
    lines: list[InvoiceLine],
    practice: Practice,
    *,
    by: User | None,
    today: date,
) -> Invoice:
    days = invoice.client.payment_days
    if days is None:
        days = practice.payment_days
    is_credit = invoice.kind == Invoice.Kind.CREDIT_NOTE
    due_day = today if is_credit else today + timedelta(days=days)
    number = _next_number(Invoice.Kind(invoice.kind), today)
    snapshot = build(
        invoice=invoice,
        lines=lines,
        practice=practice,
        number=number,
        issue_day=today,
        due_day=due_day,
    )
    invoice.state = Invoice.State.ISSUED
    invoice.number = number
    invoice.issue_day = today
    invoice.due_day = due_day
    invoice.issued_at = timezone.now()
    invoice.issued_by = by
    invoice.snapshot = snapshot
    invoice.snapshot_sha256 = digest(snapshot)
    invoice.save(
        update_fields=[
            *("state", "number", "issue_day", "due_day", "issued_at", "issued_by"),
            *("snapshot", "snapshot_sha256", "changed_at"),
        ]
    )
    book_document(invoice=invoice, by=by)
    note_change(by=by, obj=invoice, action="issued", after={"number": number})
    logger.info("issued %s", number)
    outbox.queue_job(
        kind="render_invoice",
        payload={"invoice": str(invoice.pk)},
        key=f"render:{invoice.pk}",
    )
    _queue_mail(invoice, practice)
    return invoice


def _next_number(kind: Invoice.Kind, day: date) -> str:
    """The next number of the kind's series: an UPDATE of one row, which the database
    gives back if the transaction fails, and which makes the next one wait."""
    series = SERIES[kind]
    Sequence.objects.get_or_create(series=series)
    Sequence.objects.filter(series=series).update(next_no=F("next_no") + 1)
    row = Sequence.objects.get(series=series)
    if row.last_day is not None and day < row.last_day:
        raise Refused(
            f"The last number of {series} was given on {row.last_day}, and numbers "
            "follow the calendar: look at the clock of this machine."
        )
    Sequence.objects.filter(series=series).update(last_day=day)
    return f"{series}-{row.next_no - 1:05}"


def _queue_mail(invoice: Invoice, practice: Practice) -> None:
    client = invoice.client
    if not client.email:
        return
    about: dict[str, Any] = {
        "invoice": invoice,
        "client": client,
        "practice": practice,
        "said": letter(invoice.snapshot or {}),
        "page": settings.SITE_URL + reverse("billing:my_invoice", args=[invoice.pk]),
        "has_sign_in": client.users.filter(is_active=True).exists(),
    }
    outbox.queue_mail(
        kind="invoice",
        to=client.email,
        subject=render_to_string("mail/invoice/subject.txt", about),
        body=render_to_string("mail/invoice/body.txt", about),
        key=f"invoice:{invoice.pk}",
        attach=[("invoice", str(invoice.pk))],
        client=client,
    )


@transaction.atomic
def issue_all(*, visit: Visit, by: User | None, today: date) -> list[Invoice]:
    """Issues every draft of a visit, in the order of the payers' names: all or none.

    Safe to repeat. Raises Refused as ``issue_invoice`` does, naming the payer.
    """
    issued = []
    drafts = Invoice.objects.drafts().filter(visit=visit)
    # All of them before the first number is taken: who issues one of them alone holds
    # it and waits for the numbers. Clients first, as everywhere.
    lock_clients(drafts.values_list("client", flat=True))
    list(drafts.select_for_update().order_by("pk").values_list("pk", flat=True))
    for invoice in drafts.select_related("client").order_by("client__name", "pk"):
        try:
            issued.append(issue_invoice(invoice=invoice, by=by, today=today))
        except Refused as refused:
            raise Refused(f"{invoice.client.name}: {refused.sentence}") from refused
    return issued

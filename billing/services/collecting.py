"""Collecting: how the practice does it, disputes, nudges, interest on late payment."""

import logging
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef
from django.template.loader import render_to_string
from django.urls import reverse

from billing.interest import Claim, LateRate, claim
from billing.models import (
    ClientTerms,
    Collecting,
    Dispute,
    Invoice,
    InvoiceLine,
    LatePercent,
)
from billing.regimes import DAMAGES
from billing.services.ledger import balance_of, exact, lock_invoice
from billing.services.totals import put_nets, put_tax, refresh_totals
from billing.words.letters import nudge
from practice import outbox
from practice.errors import Refused
from practice.models import Client, Practice, User
from practice.services.changes import note_change

logger = logging.getLogger(__name__)
AFTER = (7, 14, 30)
"""Days past due on which a nudge goes out; no fee is ever added."""


# ---- How ----------------------------------------------------------------------------
def collecting() -> Collecting:
    """How the practice collects; unsaved usual ways where nothing was said."""
    return Collecting.objects.filter(pk=1).first() or Collecting(pk=1)


@transaction.atomic
def set_collecting(
    *,
    by: User | None,
    nudges_on: bool,
    days_before: int,
    late_law: str,
    receipts_on: bool = False,
) -> Collecting:
    """Says how the practice collects. Raises Refused for what can't be."""
    if not 0 <= days_before <= 30:
        raise Refused("Between 0 and 30 days before.", field="days_before")
    if late_law not in Collecting.Law.values:
        raise Refused("Choose one of the laws.", field="late_law")
    row, _ = Collecting.objects.update_or_create(
        pk=1,
        defaults={
            "nudges_on": nudges_on,
            "days_before": days_before,
            "late_law": late_law,
            "receipts_on": receipts_on,
        },
    )
    note_change(
        by=by,
        obj=row,
        action="set",
        after={
            "nudges": nudges_on,
            "before": days_before,
            "law": late_law,
            "receipts": receipts_on,
        },
    )
    return row


@transaction.atomic
def set_late_percent(*, by: User | None, starts: date, percent: Decimal) -> LatePercent:
    """Enters the yearly rate of interest from a day on, all points included."""
    if not 0 <= percent <= 100:
        raise Refused("A rate lies between 0 and 100 per cent.", field="percent")
    row, _ = LatePercent.objects.update_or_create(
        starts=starts, defaults={"percent": percent}
    )
    note_change(
        by=by, obj=row, action="set", after={"from": str(starts), "is": str(percent)}
    )
    return row


# ---- Disputes -----------------------------------------------------------------------
@transaction.atomic
def dispute(*, invoice: Invoice, by: User | None, today: date, reason: str) -> Dispute:
    """Notes that the client objects: nudges stop. Asking again returns the open one."""
    row = lock_invoice(invoice.pk)
    if not row.is_issued or row.kind == Invoice.Kind.CREDIT_NOTE:
        raise Refused("Only an issued invoice can be disputed.")
    there = Dispute.objects.filter(invoice=row, settled_on__isnull=True).first()
    if there is not None:
        return there
    if not reason.strip():
        raise Refused("Say what the client objects to.", field="reason")
    made = Dispute.objects.create(
        invoice=row, since=today, reason=reason.strip()[:300], by=by
    )
    note_change(by=by, obj=row, action="disputed", reason=made.reason)
    return made


@transaction.atomic
def settle(*, invoice: Invoice, by: User | None, today: date) -> None:
    """The objection is settled: nudges go on. Safe to repeat."""
    row = lock_invoice(invoice.pk)
    open_ones = Dispute.objects.filter(invoice=row, settled_on__isnull=True)
    for each in open_ones:
        each.settled_on = max(today, each.since)
        each.save(update_fields=["settled_on"])
        note_change(by=by, obj=row, action="dispute settled")


# ---- Nudges -------------------------------------------------------------------------
def step_of(due_day: date, today: date, days_before: int) -> str:
    """The nudge that is due today: ``before``, ``7``, ``14``, ``30``, or none. A day
    on which the machine was off is made good until the next step, the newest alone."""
    late = (today - due_day).days
    if days_before and -days_before <= late < 0:
        return "before"
    passed = [days for days in AFTER if late >= days]
    return str(passed[-1]) if passed and late <= AFTER[-1] + 6 else ""


def nudge_job(*, day: str) -> None:
    """The nightly job: queues the nudges of a day, each once for ever."""
    how = collecting()
    if not how.nudges_on:
        return
    today = date.fromisoformat(day)
    practice = Practice.objects.the_one()
    earliest = today - timedelta(days=AFTER[-1] + 6)
    disputed = Dispute.objects.filter(invoice=OuterRef("pk"), settled_on__isnull=True)
    rows: Any = (
        Invoice.objects.filter(due_day__gte=earliest)
        .open()
        .filter(~Exists(disputed))
        .exclude(client__email="")
        .select_related("client")
    )
    for invoice in rows.order_by("pk"):
        step = step_of(invoice.due_day, today, how.days_before)
        # Not on the day on which the invoice itself goes out.
        if step and invoice.issue_day < today:
            _nudge(invoice, step, practice, today)


def _nudge(invoice: Any, step: str, practice: Practice, today: date) -> None:
    client: Client = invoice.client
    about: dict[str, Any] = {
        "practice": practice,
        "said": nudge(
            practice.language_to(client),
            name=client.name,
            number=invoice.number,
            step=step,
            due_day=invoice.due_day,
            late=(today - invoice.due_day).days,
            amount=exact(invoice.open_amount, invoice.currency),
            currency=invoice.currency,
        ),
        "page": settings.SITE_URL + reverse("billing:my_invoice", args=[invoice.pk]),
        "has_sign_in": client.users.filter(is_active=True).exists(),
    }
    outbox.queue_mail(
        kind="nudge",
        to=client.email,
        subject=about["said"]["subject"],
        body=render_to_string("mail/nudge/body.txt", about),
        key=f"nudge:{invoice.pk}:{step}",
        attach=[("invoice", str(invoice.pk))],
        client=client,
    )


# ---- Interest -------------------------------------------------------------------------
def _claims(invoice: Invoice) -> list[tuple[Invoice, date]]:
    """Earlier claims over an invoice that stand, with the last day of each."""
    rows: Any = Invoice.objects.filter(
        client=invoice.client_id, draft_key__startswith=f"late:{invoice.pk}:"
    )
    rows = rows.exclude(state=Invoice.State.DISCARDED).with_balance().order_by("pk")
    return [
        (row, date.fromisoformat(row.draft_key.split(":")[2]))
        for row in rows
        if not row.is_issued or row.credited < row.due
    ]


def late_claim(invoice: Invoice, *, today: date) -> Claim | None:
    """What may be claimed for late payment of a business's invoice, beside what was
    claimed before; None where no law is chosen, the client is no business, or nothing
    is late."""
    how = collecting()
    is_business = ClientTerms.objects.filter(
        client=invoice.client_id, is_business=True
    ).exists()
    if not how.late_law or not is_business or invoice.due_day is None:
        return None
    if (invoice.draft_key or "").startswith("late:"):
        return None  # simple interest: none on interest
    still_open = exact(balance_of(invoice.pk).open_amount, invoice.currency)
    if still_open <= 0 or today <= invoice.due_day:
        return None
    rates = [
        LateRate(row.starts, row.percent)
        for row in LatePercent.objects.order_by("starts")
    ]
    days = [day for _, day in _claims(invoice)]
    return claim(
        law=how.late_law,
        amount=still_open,
        due_day=invoice.due_day,
        as_of=today,
        rates=rates,
        currency=invoice.currency,
        claimed_to=max(days, default=None),
    )


@transaction.atomic
def draft_late_claim(*, invoice: Invoice, by: User | None, today: date) -> Invoice:
    """Drafts an invoice over interest and fixed sum, outside the scope of tax, for a
    person to look at and issue. Asking again returns the draft while it is one; later,
    it is over the days since, without the fixed sum.

    Raises Refused if nothing may be claimed.
    """
    row = lock_invoice(invoice.pk)
    for there, _ in _claims(row):
        if there.is_draft:
            return there
    found = late_claim(row, today=today)
    if found is None or found.total <= 0:
        raise Refused(
            "Nothing can be claimed: a law and its rates are chosen, the client is "
            "marked as a business, the invoice is past due, and these days were not "
            "claimed before."
        )
    key = f"late:{row.pk}:{today}"
    before = Invoice.objects.filter(draft_key__startswith=key).count()
    draft = Invoice.objects.create(
        client_id=row.client_id,
        currency=row.currency,
        draft_key=f"{key}:{before}" if before else key,  # discarded, or credited
    )
    practice = Practice.objects.the_one()
    days = sum(part.days for part in found.stretches)
    wanted = [
        (f"Interest on {row.number}, {days} days late", found.interest),
        (f"Compensation for collecting {row.number}", found.fixed_sum),
    ]
    lines = [
        InvoiceLine(
            invoice=draft,
            position=position,
            name=name,
            service_day=today,
            unit_price=amount,
        )
        for position, (name, amount) in enumerate(
            [(name, amount) for name, amount in wanted if amount], 1
        )
    ]
    for line in lines:
        put_tax(line, practice, DAMAGES.code)
    InvoiceLine.objects.bulk_create(put_nets(draft, lines))
    refresh_totals(invoice=draft)
    note_change(by=by, obj=draft, action="drafted", after={"late": str(row.number)})
    return draft

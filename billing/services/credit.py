"""Credit notes: over an invoice, over some of its lines, or over an amount of it.

Type 381, positive amounts, naming the invoice. What had paid the credited part becomes
the client's credit again; the newest allocation is released first.
"""

import uuid
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db import transaction

from billing import money
from billing.models import Invoice, InvoiceAllowance, InvoiceLine
from billing.selectors.deposits import left_of
from billing.services.invoices import issue_locked
from billing.services.ledger import balance_of, exact, lock_invoice, make_room
from billing.services.totals import put_nets, refresh_totals
from billing.split import split
from practice.errors import Refused
from practice.models import User

NOTHING = Decimal(0)


@transaction.atomic
def credit_in_full(
    *, invoice: Invoice, by: User | None, today: date, reason: str
) -> Invoice:
    """Issues a credit note over all of an invoice that is not credited yet. Asking
    again returns the last credit note.

    Raises Refused for a draft, for a credit note, for what is written off, and without
    a reason.
    """
    row = _creditable(invoice)
    there = Invoice.objects.filter(corrects=row).order_by("-number")
    left = _left(row)
    if left <= 0 and there:
        return there[0]
    _check_reason(reason)
    if there:
        return _over_the_rest(row, by=by, today=today, reason=reason, key=None)
    note = _begin(row, reason, key=None, with_tax=row.prices_include_tax)
    note.prepaid = row.prepaid
    note.save(update_fields=["prepaid", "changed_at"])
    _copy_lines(row, note, list(row.lines.order_by("position")))
    for allowance in InvoiceAllowance.objects.filter(invoice=row):
        allowance.pk, allowance.invoice, allowance._state.adding = None, note, True
        allowance.save()
    return _finish(row, note, by=by, today=today)


@transaction.atomic
def credit_lines(
    *,
    invoice: Invoice,
    positions: Sequence[int],
    by: User | None,
    today: date,
    reason: str,
    key: uuid.UUID | None = None,
) -> Invoice:
    """Issues a credit note over some lines of an invoice, each whole.

    Args:
        positions: of the lines; none of them credited before.
        key: made with the form; the same one again is the same credit note.

    Raises Refused as ``credit_in_full`` does, and for a line credited before.
    """
    row = _creditable(invoice)
    there = _made_under(key)
    if there is not None:
        return there
    _check_reason(reason)
    taken = set(
        InvoiceLine.objects.filter(
            corrects__invoice=row, invoice__state=Invoice.State.ISSUED
        ).values_list("corrects__position", flat=True)
    )
    wanted = sorted(set(positions))
    lines = list(row.lines.filter(position__in=wanted).order_by("position"))
    if not lines or len(lines) != len(wanted):
        raise Refused("Choose lines of this invoice.", field="positions")
    if taken & set(wanted):
        raise Refused("One of these lines was credited before.", field="positions")
    if len(taken) + len(wanted) == row.lines.count():
        # The last ones: what is left, to the cent, whatever the tax was rounded to.
        return _over_the_rest(row, by=by, today=today, reason=reason, key=key)
    note = _begin(row, reason, key=key, with_tax=row.prices_include_tax)
    _copy_lines(row, note, lines)
    return _finish(row, note, by=by, today=today)


@transaction.atomic
def credit_amount(
    *,
    invoice: Invoice,
    amount: Decimal,
    by: User | None,
    today: date,
    reason: str,
    key: uuid.UUID | None = None,
) -> Invoice:
    """Issues a credit note over an amount, tax included, taken off each rate in
    proportion to what is left of it.

    Raises Refused as ``credit_in_full`` does, and for more than is left.
    """
    row = _creditable(invoice)
    there = _made_under(key)
    if there is not None:
        return there
    _check_reason(reason)
    left = _left(row)
    if amount <= 0 or amount > left or exact(amount, row.currency) != amount:
        raise Refused(
            f"{money.written(left, row.currency)} {row.currency} of it can be credited.",
            field="amount",
        )
    note = _begin(row, reason, key=key, with_tax=True)
    lines = _lines_over(row, note, amount)
    InvoiceLine.objects.bulk_create(put_nets(note, lines))
    return _finish(row, note, by=by, today=today)


# ---- Steps ------------------------------------------------------------------------
def _creditable(invoice: Invoice) -> Invoice:
    row = lock_invoice(invoice.pk)
    if not row.is_issued or row.kind == Invoice.Kind.CREDIT_NOTE:
        raise Refused("Only an issued invoice can be credited.")
    return row


def _check_reason(reason: str) -> None:
    if not reason.strip():
        raise Refused("Say why: the credit note shows it.", field="reason")


def _made_under(key: uuid.UUID | None) -> Invoice | None:
    if key is None:
        return None
    return Invoice.objects.filter(draft_key=f"credit:{key}").first()


def _left(row: Invoice) -> Decimal:
    """What can still be credited: neither credited nor written off."""
    balance: Any = balance_of(row.pk)
    return exact(row.due - balance.credited - balance.written_off, row.currency)


def _begin(
    row: Invoice, reason: str, *, key: uuid.UUID | None, with_tax: bool
) -> Invoice:
    return Invoice.objects.create(
        kind=Invoice.Kind.CREDIT_NOTE,
        client_id=row.client_id,
        visit_id=row.visit_id,
        corrects=row,
        currency=row.currency,
        prices_include_tax=with_tax,
        note=reason.strip(),
        draft_key=None if key is None else f"credit:{key}",
    )


def _copy_lines(row: Invoice, note: Invoice, lines: list[InvoiceLine]) -> None:
    for line in lines:
        source = line.pk
        line.pk, line.invoice, line._state.adding = None, note, True
        line.corrects_id = source
    InvoiceLine.objects.bulk_create(lines)


def _over_the_rest(
    row: Invoice, *, by: User | None, today: date, reason: str, key: uuid.UUID | None
) -> Invoice:
    """A credit note over what is left: by its lines where they come to that, else by
    its rates."""
    left = _left(row)
    taken = InvoiceLine.objects.filter(
        corrects__invoice=row, invoice__state=Invoice.State.ISSUED
    ).values("corrects")
    whole = Invoice.objects.filter(
        corrects=row, lines__isnull=False, lines__corrects__isnull=True
    )
    note = _begin(row, reason, key=key, with_tax=row.prices_include_tax)
    if not whole.exists():
        _copy_lines(
            row, note, list(row.lines.exclude(pk__in=taken).order_by("position"))
        )
        refresh_totals(invoice=note)
        if note.due == left:
            return _finish(row, note, by=by, today=today)
        note.lines.all().delete()
    note.prices_include_tax = True
    note.save(update_fields=["prices_include_tax", "changed_at"])
    InvoiceLine.objects.bulk_create(put_nets(note, _lines_over(row, note, left)))
    return _finish(row, note, by=by, today=today)


def _finish(row: Invoice, note: Invoice, *, by: User | None, today: date) -> Invoice:
    refresh_totals(invoice=note)
    left = _left(row)
    if note.due > left:
        raise Refused(
            f"That comes to {money.written(note.due, row.currency)} {row.currency}, and "
            f"{money.written(left, row.currency)} can be credited. What is written off "
            "is taken back first."
        )
    if note.due < 0:
        raise Refused("These lines take off more than they add: credit them together.")
    if row.kind == Invoice.Kind.PREPAYMENT and note.due > left_of(row):
        raise Refused(
            "This deposit was taken off an invoice: credit that one, or take it off the "
            "draft, first."
        )
    make_room(invoice=row, amount=note.due, today=today)
    return issue_locked(note, by=by, today=today)


def _lines_over(row: Invoice, note: Invoice, amount: Decimal) -> list[InvoiceLine]:
    """One line a tax rate, together the amount, prices with tax."""
    decimals = money.exponent(row.currency)
    left = _gross_left(row)
    samples: dict[str, InvoiceLine] = {}
    for line in row.lines.order_by("-position"):
        samples[_rate_key(line.tax_category, line.tax_percent)] = line
    weights = {
        key: Fraction(gross)
        for key, gross in left.items()
        if gross > 0 and key in samples
    }
    if not weights:
        raise Refused("Nothing of it can be credited by amount: choose its lines.")
    shares = split(amount, weights, decimals=decimals)
    lines = []
    for position, key in enumerate(sorted(key for key in shares if shares[key]), 1):
        sample = samples[key]
        lines.append(
            InvoiceLine(
                invoice=note,
                position=position,
                visit_id=row.visit_id,
                name=f"Part of {row.number}"[:200],
                service_day=sample.service_day or row.issue_day,
                unit_price=shares[key],
                tax_code=sample.tax_code,
                tax_category=sample.tax_category,
                tax_percent=sample.tax_percent,
                tax_reason_code=sample.tax_reason_code,
                tax_reason=sample.tax_reason,
            )
        )
    return lines


def _rate_key(category: str, percent: Decimal | str | None) -> str:
    shown = "" if percent is None else f"{Decimal(percent).normalize():f}"
    return f"{category}:{shown}"


def _gross_left(row: Invoice) -> dict[str, Decimal]:
    """What is left of each tax rate, tax included, as the snapshots say."""
    left: dict[str, Decimal] = {}
    notes = Invoice.objects.filter(corrects=row, state=Invoice.State.ISSUED)
    for sign, document in [(1, row), *((-1, note) for note in notes)]:
        for group in (document.snapshot or {})["tax_groups"]:
            key = _rate_key(group["category"], group["percent"])
            gross = Decimal(group["basis"]) + Decimal(group["tax"])
            left[key] = left.get(key, NOTHING) + sign * gross
    return left

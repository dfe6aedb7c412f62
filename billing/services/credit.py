"""Credit notes: over an invoice, over some of its lines, or over an amount of it.

Type 381, positive amounts, naming the invoice. What had paid the credited part becomes
the client's credit again; the newest allocation is released first.
"""

import uuid
from collections.abc import Iterable, Sequence
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
from billing.services.totals import (
    put_nets,
    reckon,
    refresh_totals,
    told_with_tax,
)
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
    """Issues a credit note over some lines of an invoice, each whole, less their part
    of what was taken off the invoice as a whole.

    Args:
        positions: of the lines; none of them credited before.
        key: made with the form; the same one again is the same credit note.

    Raises Refused as ``credit_in_full`` does, for a line credited before, and for more
    at a tax rate than is left at it.
    """
    row = _creditable(invoice)
    there = _made_under(key)
    if there is not None:
        return there
    _check_reason(reason)
    taken = set(_taken(row).values_list("corrects__position", flat=True))
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
    _check_rates(row, note)
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
    if amount == left:
        return _over_the_rest(row, by=by, today=today, reason=reason, key=key)
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


def _taken(row: Invoice) -> Any:
    """Lines of credit notes that took back a line of the invoice."""
    return InvoiceLine.objects.filter(
        corrects__invoice=row, invoice__state=Invoice.State.ISSUED
    )


def _copy_lines(row: Invoice, note: Invoice, lines: list[InvoiceLine]) -> None:
    """The lines as they were, and what of the document's allowances was theirs."""
    allowances = _own_allowances(row, lines)
    for line in lines:
        source = line.pk
        line.pk, line.invoice, line._state.adding = None, note, True
        line.corrects_id = source
    InvoiceLine.objects.bulk_create(lines)
    for allowance in allowances:
        allowance.pk, allowance.invoice, allowance._state.adding = None, note, True
    InvoiceAllowance.objects.bulk_create(allowances)


def _own_allowances(
    row: Invoice, lines: Iterable[InvoiceLine]
) -> list[InvoiceAllowance]:
    """The invoice's allowances and charges, each as far as these lines bore it: a
    percentage of them, an amount in proportion."""
    decimals = money.exponent(row.currency)
    whole, here = _bases(row, row.lines.all()), _bases(row, lines)
    found = []
    for allowance in row.allowances.order_by("position"):
        key = _allowance_key(row, allowance)
        part, of = here.get(key, NOTHING), whole.get(key, NOTHING)
        if part <= 0 or of <= 0:
            continue
        exact_part = Fraction(allowance.amount) * Fraction(part) / Fraction(of)
        allowance.amount = money.ratio(exact_part, decimals)
        found.append(allowance)
    return found


def _allowance_key(row: Invoice, part: InvoiceLine | InvoiceAllowance) -> Any:
    with_tax = part.includes_tax
    if isinstance(part, InvoiceLine):
        with_tax = told_with_tax(row, part)
    return _rate_key(part.tax_category, part.tax_percent), with_tax


def _bases(row: Invoice, lines: Iterable[InvoiceLine]) -> dict[Any, Decimal]:
    """What the lines come to by rate and price mode; a deposit is no part of it."""
    found: dict[Any, Decimal] = {}
    for line in lines:
        if line.prepayment_id is None:
            key = _allowance_key(row, line)
            found[key] = found.get(key, NOTHING) + line.amount
    return found


def _over_the_rest(
    row: Invoice, *, by: User | None, today: date, reason: str, key: uuid.UUID | None
) -> Invoice:
    """A credit note over what is left: by its lines where they come to that, else by
    its rates."""
    left = _left(row)
    by_amount = Invoice.objects.filter(
        corrects=row, lines__isnull=False, lines__corrects__isnull=True
    )
    note = _begin(row, reason, key=key, with_tax=row.prices_include_tax)
    if not by_amount.exists():
        _copy_lines(row, note, _untaken(row))
        refresh_totals(invoice=note)
        if note.due == left:
            return _finish(row, note, by=by, today=today)
        note.lines.all().delete()
        note.allowances.all().delete()
    note.prices_include_tax = True
    note.save(update_fields=["prices_include_tax", "changed_at"])
    InvoiceLine.objects.bulk_create(put_nets(note, _lines_of_rest(row, note, left)))
    return _finish(row, note, by=by, today=today)


def _untaken(row: Invoice) -> list[InvoiceLine]:
    taken = _taken(row).values("corrects")
    return list(row.lines.exclude(pk__in=taken).order_by("position"))


def _lines_of_rest(row: Invoice, note: Invoice, left: Decimal) -> list[InvoiceLine]:
    """What is left of each rate to the cent, a deposit that was taken off given back
    as its own line; where the rates don't come to ``left`` (a part is written off),
    that amount in proportion."""
    deposits = [line for line in _untaken(row) if line.prepayment_id is not None]
    rates = {key: gross for key, gross in _gross_left(row).items() if gross}
    for line in deposits:
        key = _rate_key(line.tax_category, line.tax_percent)
        rates[key] = rates.get(key, NOTHING) - line.amount
    whole = sum(rates.values(), NOTHING) + sum((d.amount for d in deposits), NOTHING)
    over = left - whole
    if not rates or abs(over) > _rounding_room(row, len(rates)):
        return _lines_over(row, note, left)
    rates[max(rates, key=lambda key: rates[key])] += over
    parts = sorted((key, gross) for key, gross in rates.items() if gross)
    lines = [
        _part(row, note, key, gross, position)
        for position, (key, gross) in enumerate(parts, 1)
    ]
    for position, line in enumerate(deposits, len(lines) + 1):
        line.corrects_id = line.pk
        line.pk, line.invoice, line._state.adding = None, note, True
        line.position = position
    return [*lines, *deposits]


def _rounding_room(row: Invoice, rates: int) -> Decimal:
    """How far cents may have drifted: one a rate and document."""
    documents = 1 + row.credit_notes.issued().count()
    return money.major(rates * documents, money.exponent(row.currency))


def _check_rates(row: Invoice, note: Invoice) -> None:
    """Refuses to take back more at a rate than is left at it: the tax would not be
    that of the invoice any more."""
    left = _gross_left(row)
    for line in _untaken(row):
        if line.prepayment_id is not None:  # it stays on the invoice until credited
            key = _rate_key(line.tax_category, line.tax_percent)
            left[key] = left.get(key, NOTHING) - line.amount
    refresh_totals(invoice=note)
    lines = [line for line in note.lines.all() if line.prepayment_id is None]
    found = reckon(note, lines, list(note.allowances.all())).totals
    room = _rounding_room(row, 1)
    for group in found.groups:
        there = left.get(_rate_key(group.category, group.rate), NOTHING)
        if group.basis + group.tax > there + room:
            shown = "" if group.rate is None else f" at {money.plain(group.rate):f} %"
            raise Refused(
                f"Only {money.written(there, row.currency)} {row.currency}{shown} is "
                "left of it after what was credited before: credit by amount.",
                field="positions",
            )


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
    weights = {
        key: Fraction(gross) for key, gross in _gross_left(row).items() if gross > 0
    }
    if not weights:
        raise Refused("Nothing of it can be credited by amount: choose its lines.")
    shares = split(amount, weights, decimals=decimals)
    return [
        _part(row, note, key, shares[key], position)
        for position, key in enumerate(sorted(key for key in shares if shares[key]), 1)
    ]


def _part(
    row: Invoice, note: Invoice, key: str, gross: Decimal, position: int
) -> InvoiceLine:
    """A line over a part of one rate, told with tax; below 0 by its quantity."""
    sample = next(
        line
        for line in row.lines.order_by("position")
        if _rate_key(line.tax_category, line.tax_percent) == key
    )
    return InvoiceLine(
        invoice=note,
        position=position,
        visit_id=row.visit_id,
        name=f"Part of {row.number}",
        service_day=sample.service_day or row.issue_day,
        quantity=Decimal(1 if gross > 0 else -1),
        unit_price=abs(gross),
        tax_code=sample.tax_code,
        tax_category=sample.tax_category,
        tax_percent=sample.tax_percent,
        tax_reason_code=sample.tax_reason_code,
        tax_reason=sample.tax_reason,
    )


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

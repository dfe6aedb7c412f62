"""A draft's lines: tax, nets, totals, and what may be changed until it is issued."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from billing import money
from billing.models import ChargeItem, Invoice, InvoiceLine
from billing.selectors import code_of
from billing.services.totals import (
    lacks_rate,
    put_nets,
    put_tax,
    refresh_totals,
)
from horses.models import Horse
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change
from practice.services.once import made_once


# ---- Changing a draft ---------------------------------------------------------------
def locked_draft(invoice: Invoice) -> Invoice:
    """The draft's row, locked for the caller's transaction.

    Raises Refused if it was issued or discarded meanwhile.
    """
    row = Invoice.objects.select_for_update().get(pk=invoice.pk)
    if not row.is_draft:
        raise Refused(
            f"This document is {row.get_state_display()} and can't be changed. "
            "An issued one is mended by a credit note."
        )
    return row


@dataclass(frozen=True, slots=True)
class LineWish:
    """What a line should say; None leaves it as it is."""

    name: str | None = None
    quantity: Decimal | None = None
    unit_price: Decimal | None = None
    tax_code: str | None = None


@transaction.atomic
def change_line(*, line: InvoiceLine, by: User | None, wish: LineWish) -> InvoiceLine:
    """Changes name, quantity, price or tax of a draft's line. A new price is the
    payer's own, so the line no longer says what it is a share of.

    Raises Refused for what can't be, naming the field, and for a deposit that is taken
    off: its amount and tax are those of its own document.
    """
    invoice = locked_draft(line.invoice)
    line = invoice.lines.get(pk=line.pk)
    if line.prepayment_id is not None:
        raise Refused(
            "A deposit isn't changed here: remove the line, and take the deposit off anew."
        )
    before = _noted(line)
    if wish.name is not None:
        line.name = _named(wish.name)
    if wish.quantity is not None:
        line.quantity = _quantity(wish.quantity)
    if wish.unit_price is not None and wish.unit_price != line.unit_price:
        line.unit_price = checked_price(wish.unit_price, invoice.currency)
        line.share = line.whole = None
        line.allowance, line.allowance_reason = None, None
        line.note = ""
    practice = Practice.objects.the_one()
    put_tax(line, practice, line.tax_code if wish.tax_code is None else wish.tax_code)
    is_priced = wish.unit_price is not None or not line.needs_price
    line.needs_price = lacks_rate(line) or not is_priced
    put_nets(invoice, [line])
    line.save(
        update_fields=[
            *("name", "note", "quantity", "unit_price", "amount", "net"),
            *("share", "whole", "allowance", "allowance_reason", "needs_price"),
            *(
                "tax_code",
                "tax_category",
                "tax_percent",
                "tax_reason_code",
                "tax_reason",
                "changed_at",
            ),
        ]
    )
    refresh_totals(invoice=invoice)
    if before != _noted(line):
        note_change(
            by=by, obj=invoice, action="line changed", before=before, after=_noted(line)
        )
    return line


@dataclass(frozen=True, slots=True)
class NewLine:
    """A line to add: an item of the charge list, or a name with a price. A negative
    quantity takes off (EN 16931: prices are never negative)."""

    name: str = ""
    unit_price: Decimal | None = None
    quantity: Decimal = Decimal(1)
    tax_code: str = ""
    item: ChargeItem | None = None
    horse: Horse | None = None


def add_line(
    *, invoice: Invoice, by: User | None, line: NewLine, key: UUID | None = None
) -> InvoiceLine:
    """Adds a line to a draft; under the same key it is added once.

    Raises Refused for what can't be, naming the field.
    """
    return made_once(
        key=key,
        model=InvoiceLine,
        said=[invoice, line],
        make=lambda: _add(invoice=invoice, by=by, wish=line),
    )


def _add(*, invoice: Invoice, by: User | None, wish: NewLine) -> InvoiceLine:
    invoice = locked_draft(invoice)
    item = wish.item
    price = item.price if wish.unit_price is None and item else wish.unit_price
    if price is None:
        raise Refused("Give a price, or choose a charge that has one.", "unit_price")
    practice = Practice.objects.the_one()
    last = invoice.lines.aggregate(last=Max("position"))["last"] or 0
    line = InvoiceLine(
        invoice=invoice,
        position=last + 1,
        charge_item=item,
        visit=invoice.visit,
        horse=wish.horse,
        name=_named(wish.name or (item.name if item else "")),
        rule="extra" if item and item.kind == ChargeItem.Kind.EXTRA else None,
        includes_tax=_own_mode(invoice, item, practice)
        if item and wish.unit_price is None
        else None,
        unit=item.unit if item else "C62",
        service_day=invoice.visit.day if invoice.visit else _begun_on(invoice),
        quantity=_quantity(wish.quantity),
        unit_price=checked_price(price, invoice.currency),
    )
    code = wish.tax_code or (code_of(item, practice) if item else "")
    put_tax(line, practice, code)
    line.needs_price = lacks_rate(line)
    put_nets(invoice, [line])
    line.save()
    refresh_totals(invoice=invoice)
    note_change(by=by, obj=invoice, action="line added", after=_noted(line))
    return line


def _own_mode(invoice: Invoice, item: ChargeItem, practice: Practice) -> bool | None:
    """The price mode of an item where it isn't the draft's, which keeps the one that
    the practice had when it was begun."""
    said = item.includes_tax
    mode = practice.prices_include_tax if said is None else said
    return None if mode == invoice.prices_include_tax else mode


def _begun_on(invoice: Invoice) -> date:
    """The practice's day on which the draft was begun."""
    zone = Practice.objects.the_one().zone
    return timezone.localdate(invoice.created_at, timezone=zone)


@transaction.atomic
def remove_line(*, line: InvoiceLine, by: User | None) -> None:
    """Takes a line off a draft. Raises Refused if the document is no draft."""
    invoice = locked_draft(line.invoice)
    note_change(by=by, obj=invoice, action="line removed", before=_noted(line))
    line.delete()
    refresh_totals(invoice=invoice)


@transaction.atomic
def set_note(*, invoice: Invoice, by: User | None, note: str) -> None:
    """Sets what a draft says below its lines."""
    invoice = locked_draft(invoice)
    if note != invoice.note:
        before, invoice.note = invoice.note, note
        invoice.save(update_fields=["note", "changed_at"])
        note_change(
            by=by,
            obj=invoice,
            action="note changed",
            before={"note": before},
            after={"note": note},
        )


@transaction.atomic
def discard_draft(*, invoice: Invoice, by: User | None, reason: str = "") -> None:
    """Puts a draft aside for good; drafting the visit again won't bring it back. Safe
    to repeat. Raises Refused if it was issued.
    """
    row = Invoice.objects.select_for_update().get(pk=invoice.pk)
    if row.state == Invoice.State.DISCARDED:
        return
    row = locked_draft(row)
    row.state = Invoice.State.DISCARDED
    row.save(update_fields=["state", "changed_at"])
    note_change(by=by, obj=row, action="discarded", reason=reason)


def _noted(line: InvoiceLine) -> dict[str, Any]:
    return {
        "line": line.position,
        "name": line.name,
        "quantity": f"{line.quantity.normalize():f}",
        "unit_price": f"{line.unit_price.normalize():f}",
        "tax_code": line.tax_code,
    }


def _named(name: str) -> str:
    name = " ".join(name.split())
    if not name:
        raise Refused("Say what the line is for.", field="name")
    return name[:200]


def _quantity(quantity: Decimal) -> Decimal:
    if not quantity:
        raise Refused("A quantity can't be 0. Remove the line instead.", "quantity")
    if money.rounded(quantity, 3) != quantity or abs(quantity) >= 100_000:
        raise Refused("A quantity has three decimals at the most.", "quantity")
    return quantity


def checked_price(price: Decimal, currency: str, field: str = "unit_price") -> Decimal:
    decimals = money.exponent(currency)
    if price < 0:
        raise Refused(
            "A price can't be negative. To take something off, make the quantity −1.",
            field,
        )
    if money.rounded(price, decimals) != price or price >= 10**8:
        raise Refused(f"{currency} has {decimals} decimals at the most.", field)
    return money.rounded(price, decimals)

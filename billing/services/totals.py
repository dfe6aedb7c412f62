"""A document's amounts: each line's tax and net, its allowances, its totals."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction

from billing import money, tax
from billing.models import ClientTerms, Invoice, InvoiceAllowance, InvoiceLine
from billing.regimes import Rate
from billing.selectors import regime_of, tax_on, terms_of, treated
from billing.split import split
from billing.tax import Category, Reckoned, Told, totals_of_told
from practice.models import Client, Practice

DISCOUNT = "95"
"""UNTDID 5189: discount."""


def put_tax(
    line: InvoiceLine,
    practice: Practice,
    code: str,
    *,
    terms: ClientTerms | None = None,
    rate: Rate | None = None,
) -> None:
    """Sets a line's tax from the practice's rate of the code on the service day, as
    the client is treated.

    Args:
        terms: those of the invoice's client if left out.
        rate: the practice's rate, where the caller has looked it up already.
    """
    code = code or regime_of(practice).work_code
    day = line.service_day
    assert day is not None
    terms = terms or terms_of(line.invoice.client)
    rate = treated(rate or tax_on(practice, code, day), terms, day)
    line.tax_code = code
    line.tax_category = rate.category
    line.tax_percent = rate.percent
    line.tax_reason_code = rate.reason_code
    line.tax_reason = rate.reason


def lacks_rate(line: InvoiceLine | InvoiceAllowance) -> bool:
    """Whether the practice has yet to enter the rate that this line is taxed at."""
    return line.tax_percent is None and line.tax_category != Category.O


# ---- Totals -----------------------------------------------------------------------
def told_with_tax(invoice: Invoice, line: InvoiceLine) -> bool:
    """Whether the line's price includes its tax: its own mode, else the invoice's."""
    if line.includes_tax is None:
        return invoice.prices_include_tax
    return line.includes_tax


def _told(part: InvoiceLine | InvoiceAllowance, includes_tax: bool) -> Told:
    if lacks_rate(part):  # a draft without a rate yet shows no tax
        return Told(part.amount, Category.Z, Decimal(0), includes_tax)
    category = Category(part.tax_category)
    return Told(part.amount, category, part.tax_percent, includes_tax)


def reckon(
    invoice: Invoice,
    lines: Sequence[InvoiceLine],
    allowances: Sequence[InvoiceAllowance] = (),
) -> Reckoned:
    """The document's totals by EN 16931, and the nets of its parts, each from the
    price mode in which it was told; see ``tax.totals_of_told``."""
    return totals_of_told(
        [_told(line, told_with_tax(invoice, line)) for line in lines],
        [_told(row, row.includes_tax) for row in allowances if not row.is_charge],
        [_told(row, row.includes_tax) for row in allowances if row.is_charge],
        prepaid=invoice.prepaid or Decimal(0),
        decimals=money.exponent(invoice.currency),
    )


def put_nets(invoice: Invoice, lines: list[InvoiceLine]) -> list[InvoiceLine]:
    """Sets amount and net of unsaved lines; returns them."""
    decimals = money.exponent(invoice.currency)
    for line in lines:
        line.amount = tax.line_net(
            line.quantity,
            line.unit_price,
            base_quantity=line.base_quantity or Decimal(1),
            allowances=[line.allowance] if line.allowance else [],
            decimals=decimals,
        )
    for line, net in zip(lines, reckon(invoice, lines).lines, strict=True):
        line.net = net
    return lines


@transaction.atomic
def refresh_totals(*, invoice: Invoice) -> None:
    """Reckons a draft's totals anew from its lines and stores them; discounts follow
    what they are taken from."""
    lines = list(invoice.lines.order_by("position"))
    allowances = fit_allowances(invoice, lines)
    totals = reckon(invoice, lines, allowances).totals
    invoice.line_total = totals.line_total
    invoice.allowance_total = totals.allowance_total or None
    invoice.charge_total = totals.charge_total or None
    invoice.tax_total = totals.tax
    invoice.total = totals.total
    invoice.rounding = totals.rounding
    invoice.due = totals.due
    invoice.save(
        update_fields=[
            *("line_total", "allowance_total", "charge_total", "tax_total", "total"),
            *("rounding", "due", "changed_at"),
        ]
    )


@transaction.atomic
def retax_drafts(*, client: Client | None = None) -> int:
    """Puts the tax of drafts as it is now: of a client's, since the client is treated
    otherwise, or of all, since the practice or a rate is. How many drafts there were. A
    deposit that is taken off keeps the tax that it bore."""
    practice = Practice.objects.the_one()
    rows = Invoice.objects.select_for_update(of=("self",)).drafts()
    if client is not None:
        rows = rows.filter(client=client)
    drafts = list(rows.exclude(kind=Invoice.Kind.CREDIT_NOTE).order_by("pk"))
    for draft in drafts:
        terms = terms_of(draft.client)
        lines = list(draft.lines.filter(prepayment=None).exclude(service_day=None))
        for line in lines:
            _retax(line, practice, terms)
        put_nets(draft, lines)
        InvoiceLine.objects.bulk_update(
            lines,
            [
                *("amount", "net", "tax_code", "tax_category", "tax_percent"),
                *("tax_reason_code", "tax_reason", "needs_price"),
            ],
        )
        refresh_totals(invoice=draft)
    return len(drafts)


def _retax(line: InvoiceLine, practice: Practice, terms: ClientTerms) -> None:
    lacked = lacks_rate(line)
    put_tax(line, practice, line.tax_code, terms=terms)
    if lacked and not lacks_rate(line):
        line.needs_price = not line.unit_price  # nobody has priced it either
    line.needs_price |= lacks_rate(line)


# ---- Allowances and charges on the whole document -----------------------------------
@dataclass(frozen=True, slots=True)
class Wish:
    """A discount or surcharge on a document: a percentage or an amount in its price
    mode, with its reason."""

    reason: str
    percent: Decimal | None = None
    amount: Decimal | None = None
    is_charge: bool = False
    reason_code: str = DISCOUNT


def _wishes(rows: Sequence[InvoiceAllowance]) -> list[Wish]:
    """What the rows of the document were made for: an amount is told by all rows of
    its reason together."""
    found: dict[tuple[bool, str, str, Decimal | None], Decimal] = {}
    for row in rows:
        key = (row.is_charge, row.reason, row.reason_code, row.percent)
        found[key] = found.get(key, Decimal(0)) + row.amount
    return [
        Wish(reason, percent, None if percent is not None else amount, is_charge, code)
        for (is_charge, reason, code, percent), amount in found.items()
    ]


def fit_allowances(
    invoice: Invoice, lines: Sequence[InvoiceLine], *, adding: Wish | None = None
) -> list[InvoiceAllowance]:
    """The document's allowances and charges, one for each tax and price mode that its
    lines have (BG-20 and BG-21 bear one rate each), made anew from the lines. What
    finds nothing to be taken from yet waits for a line with a price."""
    old = list(invoice.allowances.order_by("position"))
    wishes = _wishes(old)
    if adding is not None:
        wishes = [w for w in wishes if w.reason != adding.reason] + [adding]
    if not wishes:
        return []
    groups: dict[tuple[Any, ...], list[InvoiceLine]] = {}
    for line in lines:
        key = (line.tax_category, line.tax_percent, told_with_tax(invoice, line))
        groups.setdefault(key, []).append(line)
    made = [
        row
        for wish in wishes
        for row in _rows_of(wish, invoice, groups) or _waiting(wish, old)
    ]
    invoice.allowances.all().delete()
    for position, row in enumerate(made, 1):
        row.position = position
        _put_net(invoice, row)
    return InvoiceAllowance.objects.bulk_create(made)


def _waiting(wish: Wish, old: Sequence[InvoiceAllowance]) -> list[InvoiceAllowance]:
    """One row that keeps the wish: a percentage of nothing, or the amount itself."""
    for row in old:
        if row.reason == wish.reason:
            row.pk, row._state.adding = None, True
            row.is_charge, row.reason_code = wish.is_charge, wish.reason_code
            row.percent, row.base = wish.percent, None
            row.amount = wish.amount or Decimal(0)
            return [row]
    return []


def _put_net(invoice: Invoice, row: InvoiceAllowance) -> None:
    row.net = row.amount
    if row.includes_tax:
        row.net = tax.net_of(
            row.amount, row.tax_percent, decimals=money.exponent(invoice.currency)
        )


def _rows_of(
    wish: Wish, invoice: Invoice, groups: dict[tuple[Any, ...], list[InvoiceLine]]
) -> list[InvoiceAllowance]:
    decimals = money.exponent(invoice.currency)
    # A deposit that is taken off lowers what is due, not what a discount is of.
    bases = {
        key: base
        for key, lines in groups.items()
        if (
            base := sum(
                (line.amount for line in lines if not line.prepayment_id), Decimal(0)
            )
        )
        > 0
    }
    if wish.percent is not None:
        amounts = {
            key: money.percent(base, wish.percent, decimals)
            for key, base in bases.items()
        }
    elif wish.amount and bases:
        named = {f"{n:04}": key for n, key in enumerate(bases)}
        weights = {name: bases[key] for name, key in named.items()}
        shares = split(wish.amount, weights, decimals=decimals)
        amounts = {named[name]: share for name, share in shares.items()}
    else:
        amounts = {}
    return [
        InvoiceAllowance(
            invoice=invoice,
            position=0,
            is_charge=wish.is_charge,
            amount=amount,
            net=amount,
            includes_tax=key[2],
            base=None if wish.percent is None else bases[key],
            percent=wish.percent,
            reason=wish.reason[:200],
            reason_code=wish.reason_code,
            tax_code=groups[key][0].tax_code,
            tax_category=key[0],
            tax_percent=key[1],
            tax_reason_code=groups[key][0].tax_reason_code,
            tax_reason=groups[key][0].tax_reason,
        )
        for key, amount in amounts.items()
        if amount
    ]

"""What documents need beside the books: wishes for the paper, the logo, and the values
of statements, receipts and ways to pay."""

from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import urlsplit

from billing import einvoice, paying
from billing.models import Invoice, LedgerEntry, Logo, PaperSettings, Payment
from billing.paying import grouped, is_in_euros
from billing.selectors.accounts import (
    NOTHING,
    entries_of,
    payment_parts,
    settled,
    statement,
)
from billing.snapshot import as_current
from practice.models import Client, Practice

_DAYS = (30, 60, 90)


def paper_settings() -> PaperSettings:
    """The practice's wishes; those of a practice that never said any."""
    return PaperSettings.objects.filter(pk=1).first() or PaperSettings()


def paper_of(wishes: PaperSettings) -> dict[str, Any]:
    """What a snapshot keeps of the wishes."""
    return {
        "size": wishes.size,
        "logo": wishes.logo_id or "",
        "feet": wishes.draws_feet,
    }


def logo_bytes(sha256: str) -> bytes | None:
    """The JPEG under this digest."""
    row = Logo.objects.filter(pk=sha256).first() if sha256 else None
    return bytes(row.content) if row else None


def no_einvoice(document: Invoice) -> str:
    """Why an issued document has no e-invoice; empty where it has one."""
    if document.snapshot is None:
        return ""
    try:
        einvoice.read(document.snapshot)
    except einvoice.Unsayable as fault:
        return str(fault)
    return ""


# ---- Paying ---------------------------------------------------------------------------
def ways_of(document: Invoice, open_amount: Decimal) -> dict[str, Any]:
    """How to pay what is open of an issued document: the snapshot's bank details, a
    transfer code over that amount, a link."""
    from billing.pdf.parts import transfer_svg

    if document.snapshot is None:
        return {}
    snapshot = as_current(document.snapshot)
    payment, currency = snapshot["payment"], snapshot["currency"]
    in_euros = is_in_euros(payment, currency)
    # A link with a fixed sum in it asks for what was due then, not for what is open
    # now; so it is made anew from the practice's own words.
    link = paying.pay_link(
        paper_settings().pay_link,
        number=snapshot["number"],
        amount=open_amount,
        currency=currency,
    )
    return {
        **payment,
        "iban": grouped(payment["iban"]),
        "named": grouped(payment["rf"])
        if in_euros and payment["rf"]
        else payment["reference"],
        "qr": transfer_svg(
            payment, currency=currency, due=settled(open_amount, currency)
        ),
        "link": link,
        "link_host": urlsplit(link).hostname or "",
    }


def _payment_of(practice: Practice) -> dict[str, str]:
    """As ``payment`` in a snapshot, for a statement: no document is named."""
    return {
        "reference": "",
        "rf": "",
        "link": "",
        "bank_name": practice.bank_name,
        "account": practice.bank_account,
        "account_name": practice.legal_name or practice.name,
        "sort_code": practice.bank_sort_code,
        "iban": practice.iban,
        "bic": practice.bic,
    }


# ---- Statements and receipts ------------------------------------------------------------
def _parties(client: Client) -> dict[str, Any]:
    from billing.selectors.charges import regime_of

    practice = Practice.objects.the_one()
    regime = regime_of(practice)
    place = ("street", "town", "post_code", "country")
    wishes = paper_settings()
    return {
        "seller": {
            "name": practice.name,
            "legal_name": practice.legal_name or practice.name,
            **{name: getattr(practice, name) for name in place},
            "phone": practice.phone,
            "email": practice.email,
            "tax_number": practice.tax_number if practice.tax_registered else "",
            "number_word": regime.number_word,
            "company_number": practice.company_number,
        },
        "buyer": {
            "name": client.name,
            **{name: getattr(client, name) for name in place},
        },
        "language": practice.language_to(client),
        "currency": practice.currency,
        "size": wishes.size,
        "logo": wishes.logo_id or "",
        "pay": _payment_of(practice),
    }


_WHAT = {
    LedgerEntry.Kind.PAYMENT: "payment",
    LedgerEntry.Kind.REFUND: "refund",
    LedgerEntry.Kind.WRITE_OFF: "write_off",
    LedgerEntry.Kind.CREDIT: "credit_note",
}


def statement_data(client: Client, *, first: date, last: date) -> dict[str, Any]:
    """What a statement says of a period, both days in, as ``billing.pdf`` takes it."""
    found = statement(client, first=first, last=last)
    rows = entries_of(client).filter(day__gte=first, day__lte=last)
    open_ones, aged = _open_ones(client, last)
    return {
        **_parties(client),
        "from_day": first,
        "to_day": last,
        "opening": found.opening,
        "closing": found.closing,
        "entries": [
            {
                "day": entry.day,
                "what": _what(row),
                "number": row.invoice.number if row.invoice else "",
                "amount": entry.amount,
                "balance": entry.balance,
            }
            for row, entry in zip(rows, found.entries, strict=True)
        ],
        "open": open_ones,
        "aged": aged if open_ones else [],
    }


def _what(row: LedgerEntry) -> str:
    if row.reverses_id is not None:
        return "reversal"
    kind = LedgerEntry.Kind(row.kind)
    if kind == LedgerEntry.Kind.ISSUE and row.invoice:
        is_plain = row.invoice.kind == Invoice.Kind.INVOICE
        return "invoice" if is_plain else "prepayment_invoice"
    return _WHAT[kind]


def _open_ones(
    client: Client, last: date
) -> tuple[list[dict[str, Any]], list[Decimal]]:
    """Documents open on a day, the longest due first, and their sums by age."""
    documents: Any = Invoice.objects.filter(client=client, issue_day__lte=last)
    rows, aged = [], [NOTHING] * (len(_DAYS) + 2)
    for row in documents.with_balance(as_of=last).order_by("due_day", "number"):
        amount = settled(row.open_amount, row.currency)
        if not row.is_issued or amount <= 0:
            continue
        late = (last - row.due_day).days
        place = 0 if late <= 0 else 1 + sum(late > days for days in _DAYS)
        aged[place] += amount
        rows.append(
            {
                "number": row.number,
                "due_day": row.due_day,
                "amount": amount,
                "is_late": late > 0,
            }
        )
    return rows, aged


def receipt_number(payment: Payment) -> str:
    """What a receipt is called: its day, and a part of the payment's key."""
    return f"{payment.day:%Y%m%d}-{str(payment.pk)[-6:].upper()}"


def receipt_data(payment: Payment) -> dict[str, Any]:
    """What a receipt says of a payment and what it pays now."""
    parts, left = payment_parts(payment)
    open_now: Any = Invoice.objects.filter(pk__in=[p.invoice_id for p in parts])
    balances = {
        row.pk: settled(row.open_amount, row.currency)
        for row in open_now.with_balance()
    }
    return {
        **_parties(payment.client),
        "currency": payment.currency,
        "number": receipt_number(payment),
        "day": payment.day,
        "amount": payment.amount,
        "method": payment.method,
        "reference": payment.reference,
        "parts": [
            {
                "number": part.invoice.number,
                "issue_day": part.invoice.issue_day,
                "amount": part.amount,
                "open": balances[part.invoice_id],
            }
            for part in parts
        ],
        "left": left,
    }

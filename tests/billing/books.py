"""Documents and payments for tests of the books: plain, by the services themselves."""

from datetime import date, timedelta
from decimal import Decimal

from billing.models import Invoice
from billing.selectors.ledger import control
from billing.services.invoices import issue_invoice
from billing.services.lines import NewLine, add_line
from billing.services.payments import record_payment
from practice.keys import uuid7

TODAY = date(2026, 11, 25)
D = Decimal


def ago(days):
    return TODAY - timedelta(days=days)


def draft_over(client, *amounts, tax_code="zero", kind="380", **over):
    """A draft with a line an amount; ``tax_code`` one for all or one each."""
    draft = Invoice.objects.create(client=client, currency="GBP", kind=kind, **over)
    codes = [tax_code] * len(amounts) if isinstance(tax_code, str) else tax_code
    for amount, code in zip(amounts, codes, strict=True):
        line = NewLine(name="Work", unit_price=D(amount), tax_code=code)
        add_line(invoice=draft, by=None, line=line)
    draft.refresh_from_db()
    return draft


def invoice_over(client, *amounts, day=TODAY, **over):
    """An issued invoice; without tax unless told otherwise."""
    return issue_invoice(
        invoice=draft_over(client, *amounts, **over), by=None, today=day
    )


def pay(client, amount, *invoices, **over):
    told = {"method": "cash", "day": TODAY, "by": None, "key": uuid7(), **over}
    return record_payment(client=client, amount=D(amount), invoices=invoices, **told)


def balance(invoice):
    return Invoice.objects.with_balance().get(pk=invoice.pk)


def open_of(invoice):
    return balance(invoice).open_amount


def books_balance():
    """The control equation of every client."""
    found = control()
    assert [one for one in found if not one.holds] == []
    return found

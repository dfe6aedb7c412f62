"""The demo's money: a charge list, the last weeks' invoices, what was paid of them.

Prices are invented, of the size that a farrier in such a place may charge (common
practice, no source).
"""

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from django.db import transaction
from django.db.models import Model

from billing.demo.rules import ROWS, show_rules
from billing.models import (
    Allocation,
    BankImport,
    BankLine,
    ChargeItem,
    Dispute,
    Invoice,
    InvoiceAllowance,
    InvoiceLine,
    IssueRun,
    LedgerEntry,
    Logo,
    PaperSettings,
    Payment,
    Rendition,
    Sequence,
    StatementColumns,
    TaxRate,
)
from billing.services.charges import (
    Priced,
    add_extra,
    propose_charge_list,
    set_prices,
    set_tax_rate,
)
from billing.services.credit import credit_in_full
from billing.services.drafts import draft_invoices
from billing.services.invoices import issue_all
from billing.services.payments import record_payment
from billing.services.renditions import path_of
from horses.models import Visit
from practice.demo import set_in_house
from practice.keys import uuid7
from practice.models import Message, Practice

DAYS_BACK = 65
PRICES = {
    "whinbrae": {
        "Call-out": "24.00",
        "Full set": "108.00",
        "Reset, all four": "92.00",
        "Front shoes, trim behind": "78.00",
        "Trim": "38.00",
        "Pull and trim": "44.00",
        "Check": "15.00",
        "No-show": "30.00",
        "Late call-off": "20.00",
    },
    "tamarack": {
        "Call-out": "35.00",
        "Full set": "240.00",
        "Reset, all four": "195.00",
        "Front shoes, trim behind": "160.00",
        "Trim": "60.00",
        "Pull and trim": "70.00",
        "Check": "25.00",
        "No-show": "50.00",
        "Late call-off": "35.00",
    },
}
EXTRAS = {
    "whinbrae": (("Pads, pair", "24.00"), ("Stud holes, set", "12.00")),
    "tamarack": (("Pads, pair", "35.00"), ("Hoof dressing, can", "18.50")),
}
GOODS_PERCENT = Decimal(6)  # Vermont's state sales tax; from memory


@transaction.atomic
def load(*, today: date) -> None:
    """Loads the money of the set that is in the house; does nothing a second time."""
    which = set_in_house()
    if which is None or ChargeItem.objects.exists():
        return
    _price(which, today)
    first = today - timedelta(days=DAYS_BACK)
    visits = list(
        Visit.objects.filter(
            day__gte=first,
            state=Visit.State.CLOSED,
            kind=Visit.Kind.ATTENDED,
            records__isnull=False,
        )
        .distinct()
        .order_by("day", "pk")
    )
    for visit in visits[:-1]:
        draft_invoices(visit=visit, by=None)
        issue_all(visit=visit, by=None, today=visit.day)
    for visit in visits[-1:]:  # the last one waits for whoever tries it out
        draft_invoices(visit=visit, by=None)
    _pay(today)
    show_rules(which)
    # The past's mails are not sent now; its PDFs are made when someone asks.
    Message.objects.filter(kind__in=["invoice", "render_invoice"]).delete()


def _price(which: str, today: date) -> None:
    practice = Practice.objects.the_one()
    propose_charge_list(practice=practice)
    prices = PRICES[which]
    set_prices(
        by=None,
        priced={
            item.pk: Priced(Decimal(prices[item.name]), item.tax_code)
            for item in ChargeItem.objects.all()
            if item.name in prices
        },
    )
    for name, price in EXTRAS[which]:
        code = "goods" if practice.tax_regime == "US" else "standard"
        add_extra(by=None, name=name, price=Decimal(price), tax_code=code)
    if practice.tax_regime == "US":
        set_tax_rate(by=None, code="goods", percent=GOODS_PERCENT, starts=today)


def _pay(today: date) -> None:
    """Most of what is older than two weeks is paid; one in six is not, one in nine in
    part; one invoice is credited."""
    rows = Invoice.objects.issued().filter(issue_day__lt=today - timedelta(days=12))
    for turn, invoice in enumerate(rows.select_related("client").order_by("number")):
        if turn == 4:
            credit_in_full(
                invoice=invoice,
                by=None,
                today=today,
                reason="Billed to the wrong payer",
            )
        elif turn % 6 != 5 and invoice.due > 0:
            part = Decimal("0.5") if turn % 9 == 8 else Decimal(1)
            assert invoice.issue_day is not None
            record_payment(
                key=uuid7(),
                client=invoice.client,
                amount=(invoice.due * part).quantize(Decimal("0.01")),
                method="cash" if turn % 5 == 0 else "transfer",
                day=min(today, invoice.issue_day + timedelta(days=turn % 12)),
                by=None,
                invoices=[invoice],
                reference=str(invoice.number),
            )


def erase() -> None:
    """Takes all of this app's rows out, for a practice that leaves the demo behind;
    the guards of issued documents let a demo's go."""
    kept = [
        path_of(sha256, kind)
        for sha256, kind in Rendition.objects.values_list("sha256", "kind")
    ]
    ours: tuple[type[Model], ...] = (
        *(BankLine, BankImport, StatementColumns, IssueRun, Dispute, LedgerEntry),
        *(Allocation, Payment, Rendition, InvoiceAllowance, InvoiceLine, Invoice),
        *ROWS,
        *(Sequence, ChargeItem, TaxRate, PaperSettings, Logo),
    )
    for model in ours:
        rows = model._default_manager.all()
        # Row by row the credit notes would protect their invoices.
        rows._raw_delete(rows.db)
    transaction.on_commit(lambda: _unlink(kept))


def _unlink(paths: list[Path]) -> None:
    for path in paths:
        path.unlink(missing_ok=True)

"""What the processes of ``test_numbers`` do: draft, issue at once, pay at once.

``python -m tests.faults.issuing draft N | issue SEED SHARE_THAT_FAILS | pay KEY…``
"""

import random
import sys
from datetime import date
from decimal import Decimal

TODAY = date(2026, 11, 25)


class PowerCut(Exception):
    """Thrown inside the transaction, after the number was taken."""


def draft(count: int) -> None:
    from billing.models import Invoice
    from billing.services.lines import NewLine, add_line
    from practice.models import Client, Practice

    if not Practice.objects.exists():
        Practice.objects.create(name="Fault Forge", country="GB", currency="GBP")
    client = Client.objects.create(name="Elspeth")
    for _ in range(count):
        invoice = Invoice.objects.create(client=client, currency="GBP")
        add_line(
            invoice=invoice,
            by=None,
            line=NewLine(name="Work", unit_price=Decimal("100.00")),
        )


def issue(seed: int, failing: float) -> None:
    """Takes drafts in an order of its own until none is left."""
    from django.db import transaction

    from billing.models import Invoice
    from billing.services.invoices import issue_invoice
    from practice.errors import Refused

    dice = random.Random(seed)  # noqa: S311 - a seeded order, no secret
    while drafts := list(Invoice.objects.drafts()):
        invoice = dice.choice(drafts)
        try:
            with transaction.atomic():
                issue_invoice(invoice=invoice, by=None, today=TODAY)
                if dice.random() < failing:
                    raise PowerCut
        except (PowerCut, Refused):
            continue


def pay(keys: list[str]) -> None:
    """30.00 under each key, for whatever is due longest."""
    from uuid import UUID

    from billing.services.payments import record_payment
    from practice.models import Client

    for key in keys:
        record_payment(
            key=UUID(key),
            client=Client.objects.get(),
            amount=Decimal("30.00"),
            method="cash",
            day=TODAY,
            by=None,
        )


def main(act: str, *told: str) -> None:
    import django

    django.setup()
    if act == "draft":
        draft(int(told[0]))
        return
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    sys.stdin.readline()
    if act == "issue":
        issue(int(told[0]), float(told[1]))
    elif act == "pay":
        pay(list(told))


if __name__ == "__main__":
    main(*sys.argv[1:])

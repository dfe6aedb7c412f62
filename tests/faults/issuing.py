"""What the processes of ``test_numbers`` do: draft, issue at once, pay at once.

``python -m tests.faults.issuing draft N | issue SEED SHARE_THAT_FAILS | threads N |
render | month | drain | pay KEY…``
"""

import random
import sys
import threading
import time
from datetime import date
from decimal import Decimal
from typing import Any

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


def threads(count: int) -> None:
    """So many threads of this process issue at once; a third of what they do fails."""
    from django.db import connections

    def work(seed: int) -> None:
        try:
            issue(seed, 1 / 3)
        finally:
            connections.close_all()

    at_once = [threading.Thread(target=work, args=(seed,)) for seed in range(count)]
    for thread in at_once:
        thread.start()
    for thread in at_once:
        thread.join()


def render() -> None:
    """Makes what is queued, and stops for ever between number and bytes."""
    from billing.services import renditions
    from practice import outbox

    def stall(*_: object, **__: object) -> bytes:
        sys.stdout.write("rendering\n")
        sys.stdout.flush()
        time.sleep(600)
        return b""

    renditions.pdf.invoice_pdf = stall  # type: ignore[assignment]
    outbox.drain()


def month() -> None:
    """Sets out to issue all drafts there are."""
    from billing.services.month_end import start_run

    start_run(by=None, today=TODAY)


def drain(slowly: bool = False) -> None:
    """The worker's work; ``slowly`` so that it can be killed in the middle."""
    from django.conf import settings

    from billing.services import month_end
    from practice import outbox

    if slowly:
        issued = month_end.issue_invoice

        def slow(**told: Any) -> Any:
            time.sleep(0.05)
            return issued(**told)

        month_end.issue_invoice = slow
        # PDFs are not on trial here.
        settings.OUTBOX_JOBS = {
            **settings.OUTBOX_JOBS,
            "render_invoice": "builtins.dict",
        }
    outbox.drain(limit=10_000)


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
    if act == "month":
        month()
        return
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    sys.stdin.readline()
    if act == "issue":
        issue(int(told[0]), float(told[1]))
    elif act == "threads":
        threads(int(told[0]))
    elif act == "render":
        render()
    elif act == "slowly":
        drain(slowly=True)
    elif act == "drain":
        drain()
    elif act == "pay":
        pay(list(told))


if __name__ == "__main__":
    main(*sys.argv[1:])

"""Every document and payment that there is gets its entry in the ledger; an allocation
that was released becomes one that is reversed.
"""

from django.db import migrations
from django.utils import timezone


def bring_over(apps, schema_editor):
    """Entries in the order of their days; safe on an empty house."""
    model = apps.get_model("billing", "LedgerEntry")
    entries = []
    documents = apps.get_model("billing", "Invoice").objects.filter(state="issued")
    for row in documents.order_by("issue_day", "number").iterator():
        is_credit = row.kind == "381"
        entries.append(
            model(
                client_id=row.client_id,
                kind="credit" if is_credit else "issue",
                day=row.issue_day,
                currency=row.currency,
                amount=-row.due if is_credit else row.due,
                invoice=row,
                by_id=row.issued_by_id,
            )
        )
    payments = apps.get_model("billing", "Payment").objects
    entries.extend(
        model(
            client_id=row.client_id,
            kind="payment",
            day=row.day,
            currency=row.currency,
            amount=-row.amount,
            payment=row,
            by_id=row.taken_by_id,
        )
        for row in payments.order_by("day", "pk").iterator()
    )
    entries.sort(key=lambda entry: entry.day)
    model.objects.bulk_create(entries, batch_size=500)


def bring_allocations(apps, schema_editor):
    """Each gets its day; a released one its reversal."""
    model = apps.get_model("billing", "Allocation")
    for row in model.objects.select_related("payment", "invoice").order_by("pk"):
        row.day = max(row.payment.day, row.invoice.issue_day)
        row.save(update_fields=["day"])
        if row.released_at is not None:
            model.objects.create(
                payment=row.payment,
                invoice=row.invoice,
                amount=-row.amount,
                day=max(row.day, timezone.localdate(row.released_at)),
                reverses=row,
            )


def nothing(apps, schema_editor):
    """Going back, the tables go."""


class Migration(migrations.Migration):
    dependencies = [("billing", "0004_the_ledger")]

    operations = [
        migrations.RunPython(bring_over, nothing),
        migrations.RunPython(bring_allocations, nothing),
    ]

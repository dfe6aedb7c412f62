"""Documents by state and day, entries and allocations by day: what the books' periods,
drafts and lists ask for. Indexes alone, so that SQLite remakes no table (and drops no
guard)."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("billing", "0011_files_made_by_the_worker")]

    operations = [
        migrations.AddIndex(
            model_name="invoice",
            index=models.Index(fields=["state", "issue_day"], name="invoice_by_day"),
        ),
        migrations.AddIndex(
            model_name="ledgerentry",
            index=models.Index(fields=["day"], name="ledger_by_day"),
        ),
        migrations.AddIndex(
            model_name="allocation",
            index=models.Index(fields=["day"], name="allocation_by_day"),
        ),
    ]

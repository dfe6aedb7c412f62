"""Triggers that refuse to change the ledger, its payments and allocations; and, on
SQLite, ``INSERT OR REPLACE`` and ``UPDATE OR REPLACE``, which delete the row in their
way without asking its DELETE trigger (unless the connection has recursive_triggers on,
which a foreign one has not).

``put_up`` puts up all of billing's guards, those of earlier migrations too: run it
again after a migration that remakes one of these tables.
"""

from importlib import import_module

from django.db import migrations, models

ISSUED_STAYS = import_module("billing.migrations.0002_the_issued_stays")
RULES = import_module("billing.migrations.0003_charge_rules")
REAL = ISSUED_STAYS.REAL
KEPT = ("billing_ledgerentry", "billing_allocation", "billing_payment")
GUARDS = {
    f"{table.removeprefix('billing_')}_{word}": (table, event, when, sentence)
    for table in KEPT
    for word, event, when, sentence in (
        ("kept", "UPDATE", "1 = 1", "the ledger is never changed: reverse the entry"),
        ("stays", "DELETE", REAL, "the ledger is never deleted: reverse the entry"),
    )
}
_REPLACED = "this would replace a row that is kept"


def _there(table, *same, only="1 = 1"):
    alike = " OR ".join(f"({each})" for each in same)
    return f"EXISTS (SELECT 1 FROM {table} r WHERE ({alike}) AND {only})"  # noqa: S608 - our own names


def _on_issued(name):
    table = f"billing_{name}"
    issued = (
        "EXISTS (SELECT 1 FROM billing_invoice i "
        "WHERE i.id = r.invoice_id AND i.state = 'issued')"
    )
    return table, _there(table, "r.id = NEW.id", only=issued)


_NUMBERED = ("r.id = NEW.id", "r.number = NEW.number", "r.draft_key = NEW.draft_key")
SQLITE_GUARDS = {
    "invoice_not_replaced": (
        "billing_invoice",
        "INSERT",
        _there("billing_invoice", *_NUMBERED, only="r.state = 'issued'"),
        _REPLACED,
    ),
    "invoice_not_pushed_out": (
        "billing_invoice",
        "UPDATE",
        _there(
            "billing_invoice",
            *_NUMBERED,
            only="r.state = 'issued' AND r.id <> OLD.id",
        ),
        _REPLACED,
    ),
    "rendition_not_replaced": (
        "billing_rendition",
        "INSERT",
        _there(
            "billing_rendition",
            "r.id = NEW.id",
            "r.invoice_id = NEW.invoice_id AND r.kind = NEW.kind",
        ),
        _REPLACED,
    ),
    "payment_not_replaced": (
        "billing_payment",
        "INSERT",
        _there("billing_payment", "r.id = NEW.id"),
        _REPLACED,
    ),
    "allocation_not_replaced": (
        "billing_allocation",
        "INSERT",
        _there(
            "billing_allocation", "r.id = NEW.id", "r.reverses_id = NEW.reverses_id"
        ),
        _REPLACED,
    ),
    "ledgerentry_not_replaced": (
        "billing_ledgerentry",
        "INSERT",
        _there(
            "billing_ledgerentry",
            "r.id = NEW.id",
            "r.key = NEW.key",
            "r.reverses_id = NEW.reverses_id",
            "r.invoice_id = NEW.invoice_id AND r.kind = NEW.kind "
            "AND r.kind IN ('issue', 'credit')",
            "r.payment_id = NEW.payment_id AND r.kind = 'payment' "
            "AND NEW.kind = 'payment' AND r.reverses_id IS NULL "
            "AND NEW.reverses_id IS NULL",
        ),
        _REPLACED,
    ),
}
for _name in ("invoiceline", "invoiceallowance"):
    _table, _when = _on_issued(_name)
    SQLITE_GUARDS[f"{_name}_not_replaced"] = (_table, "INSERT", _when, _REPLACED)
    SQLITE_GUARDS[f"{_name}_not_pushed_out"] = (
        _table,
        "UPDATE",
        f"NEW.id <> OLD.id AND {_when}",
        _REPLACED,
    )


def put_up(apps, schema_editor):
    """Make all guards of billing; any that stand are replaced."""
    take_down(apps, schema_editor)
    ISSUED_STAYS.put_up(apps, schema_editor)
    RULES.put_up(apps, schema_editor)
    vendor = schema_editor.connection.vendor
    write = {"sqlite": ISSUED_STAYS._sqlite, "postgresql": ISSUED_STAYS._postgresql}
    own = {**GUARDS, **(SQLITE_GUARDS if vendor == "sqlite" else {})}
    for name, guard in own.items():
        for statement in write[vendor](name, *guard):
            schema_editor.execute(statement)
    if vendor != "postgresql":
        return
    for table in KEPT:
        name = f"{table}_not_emptied"
        schema_editor.execute(
            f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger AS $$ "
            f"BEGIN IF {_there(table, '1 = 1')} AND {REAL} "
            "THEN RAISE EXCEPTION 'the ledger is never deleted' "
            "USING ERRCODE = 'integrity_constraint_violation'; END IF; "
            "RETURN NULL; END $$ LANGUAGE plpgsql"
        )
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE TRUNCATE ON {table} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION {name}()"
        )


def take_down(apps, schema_editor):
    """Remove all guards of billing."""
    ISSUED_STAYS.take_down(apps, schema_editor)
    RULES.take_down(apps, schema_editor)
    take_own_down(apps, schema_editor)


def take_own_down(apps, schema_editor):
    """Remove the guards of this migration, on the way back."""
    on_table = schema_editor.connection.vendor == "postgresql"
    for name, (table, *_) in {**GUARDS, **SQLITE_GUARDS}.items():
        where = f" ON {table}" if on_table else ""
        schema_editor.execute(f"DROP TRIGGER IF EXISTS billing_{name}{where}")
        if on_table:
            schema_editor.execute(f"DROP FUNCTION IF EXISTS billing_{name}()")
    if on_table:
        for table in KEPT:
            name = f"{table}_not_emptied"
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {name} ON {table}")
            schema_editor.execute(f"DROP FUNCTION IF EXISTS {name}()")


class Migration(migrations.Migration):
    dependencies = [("billing", "0005_bring_the_books_over")]

    operations = [
        migrations.RemoveField(
            model_name="allocation",
            name="released_at",
        ),
        migrations.AlterField(
            model_name="allocation",
            name="amount",
            field=models.DecimalField(
                decimal_places=3,
                help_text="below 0: undoes an earlier row",
                max_digits=12,
            ),
        ),
        migrations.AlterField(
            model_name="allocation",
            name="day",
            field=models.DateField(help_text="from when it counts"),
        ),
        migrations.AddConstraint(
            model_name="allocation",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("amount__gt", 0), ("reverses__isnull", True)),
                    models.Q(("amount__lt", 0), ("reverses__isnull", False)),
                    _connector="OR",
                ),
                name="allocation_above_nothing",
            ),
        ),
        migrations.RunPython(put_up, take_own_down),
    ]

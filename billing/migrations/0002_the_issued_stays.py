"""Triggers that refuse to change an issued document, its lines or its bytes.

A later migration that lets SQLite remake one of these tables drops its triggers with
the old table: run ``put_up`` again after it (a test looks whether they are there).
"""

from django.db import migrations

ISSUED = "EXISTS (SELECT 1 FROM billing_invoice i WHERE {} AND i.state = 'issued')"
# The demo's documents are nobody's: leaving the demo behind erases them.
REAL = "NOT EXISTS (SELECT 1 FROM practice_practice p WHERE p.is_demo)"
GUARDS = {
    # name: (table, event, when it is refused, sentence)
    "invoice_kept": (
        "billing_invoice",
        "UPDATE",
        "OLD.state = 'issued'",
        "an issued document never changes",
    ),
    "invoice_stays": (
        "billing_invoice",
        "DELETE",
        f"OLD.state = 'issued' AND {REAL}",
        "an issued document is never deleted",
    ),
    "line_not_added": (
        "billing_invoiceline",
        "INSERT",
        ISSUED.format("i.id = NEW.invoice_id"),
        "an issued document gets no line",
    ),
    "line_kept": (
        "billing_invoiceline",
        "UPDATE",
        ISSUED.format("i.id IN (OLD.invoice_id, NEW.invoice_id)"),
        "a line of an issued document never changes",
    ),
    "line_stays": (
        "billing_invoiceline",
        "DELETE",
        f"{ISSUED.format('i.id = OLD.invoice_id')} AND {REAL}",
        "a line of an issued document is never deleted",
    ),
    "rendition_kept": (
        "billing_rendition",
        "UPDATE",
        "1 = 1",
        "the bytes of an issued document never change",
    ),
    "rendition_stays": (
        "billing_rendition",
        "DELETE",
        REAL,
        "the bytes of an issued document are never deleted",
    ),
}


EMPTIED = ("billing_invoice", "billing_invoiceline", "billing_rendition")
"""Tables that PostgreSQL could empty past the triggers of rows."""


def _sqlite(name, table, event, when, sentence):
    trigger = (
        f"CREATE TRIGGER billing_{name} BEFORE {event} ON {table} WHEN {when} "
        f"BEGIN SELECT RAISE(ABORT, '{sentence}'); END"
    )
    return (trigger,)


def _postgresql(name, table, event, when, sentence):
    # A trigger's WHEN can't hold a subquery there, so the function asks.
    kept = "OLD" if event == "DELETE" else "NEW"
    function = (
        f"CREATE OR REPLACE FUNCTION billing_{name}() RETURNS trigger AS $$ "
        f"BEGIN IF {when} THEN RAISE EXCEPTION '{sentence}' "
        f"USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        f"RETURN {kept}; END $$ LANGUAGE plpgsql"
    )
    trigger = (
        f"CREATE TRIGGER billing_{name} BEFORE {event} ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION billing_{name}()"
    )
    return function, trigger


def _not_emptied():
    """PostgreSQL's TRUNCATE is refused while an issued document of a practice that is
    no demo is there. (SQLite has none: its DELETE meets the triggers of rows.)"""
    there = "EXISTS (SELECT 1 FROM billing_invoice WHERE state = 'issued')"
    yield (
        "CREATE OR REPLACE FUNCTION billing_not_emptied() RETURNS trigger AS $$ "
        f"BEGIN IF {there} AND {REAL} "
        "THEN RAISE EXCEPTION 'issued documents are never deleted' "
        "USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        "RETURN NULL; END $$ LANGUAGE plpgsql"
    )
    for table in EMPTIED:
        yield (
            f"CREATE TRIGGER billing_not_emptied BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION billing_not_emptied()"
        )


def put_up(apps, schema_editor):
    """Make the triggers; any that stand are replaced."""
    take_down(apps, schema_editor)
    write = {"sqlite": _sqlite, "postgresql": _postgresql}
    for name, guard in GUARDS.items():
        for statement in write[schema_editor.connection.vendor](name, *guard):
            schema_editor.execute(statement)
    if schema_editor.connection.vendor == "postgresql":
        for statement in _not_emptied():
            schema_editor.execute(statement)


def take_down(apps, schema_editor):
    """Remove the triggers."""
    on_table = schema_editor.connection.vendor == "postgresql"
    for name, (table, *_) in GUARDS.items():
        where = f" ON {table}" if on_table else ""
        schema_editor.execute(f"DROP TRIGGER IF EXISTS billing_{name}{where}")
        if on_table:
            schema_editor.execute(f"DROP FUNCTION IF EXISTS billing_{name}()")
    if on_table:
        for table in EMPTIED:
            schema_editor.execute(
                f"DROP TRIGGER IF EXISTS billing_not_emptied ON {table}"
            )
        schema_editor.execute("DROP FUNCTION IF EXISTS billing_not_emptied()")


class Migration(migrations.Migration):
    dependencies = [("billing", "0001_money"), ("practice", "0001_foundation")]

    operations = [migrations.RunPython(put_up, take_down)]

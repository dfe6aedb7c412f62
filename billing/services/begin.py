"""Starting an invoice or a deposit that no visit asks for: an empty draft."""

from uuid import UUID

from django.db import transaction

from billing.models import Invoice
from practice.errors import Refused
from practice.models import Client, Practice, User
from practice.services.changes import note_change


@transaction.atomic
def begin_draft(*, key: UUID, client: Client, kind: str, by: User | None) -> Invoice:
    """An empty draft for a client, to which lines are added by hand.

    Args:
        key: made with the form; the same one again is the same draft.
        kind: 380 invoice, or 386 prepayment: a deposit that is invoiced and taxed
            before the work, and taken off the work's invoice later.

    Raises Refused for another kind.
    """
    if kind not in {Invoice.Kind.INVOICE, Invoice.Kind.PREPAYMENT}:
        raise Refused("Begin an invoice or a deposit.", field="kind")
    practice = Practice.objects.the_one()
    draft, is_new = Invoice.objects.get_or_create(
        draft_key=f"begun:{key}",
        defaults={
            "client": client,
            "kind": kind,
            "currency": practice.currency,
            "prices_include_tax": practice.prices_include_tax,
        },
    )
    if is_new:
        note_change(by=by, obj=draft, action="begun", after={"kind": kind})
    return draft

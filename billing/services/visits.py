"""Closing a visit: the record is locked and its invoices are drafted, or neither."""

from django.db import transaction

from billing.models import Invoice
from billing.services.drafts import draft_invoices
from horses.models import Visit
from horses.services import visits as horse_visits
from practice.models import User


@transaction.atomic
def close_visit(*, visit: Visit, by: User) -> list[Invoice]:
    """Closes the visit and drafts one invoice per payer, in one transaction. Safe to
    repeat: page, API and offline sending all come through here.

    Returns the documents of the visit. Raises Refused as ``draft_invoices`` does; then
    the visit stays open.
    """
    horse_visits.close_visit(visit=visit, by=by)
    return draft_invoices(visit=visit, by=by)

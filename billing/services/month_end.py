"""Issuing all drafts in one go: a list fixed at the start, worked off a few at a time.

Each step is a job of the outbox, done and marked in one transaction together with the
documents that it issues and the place it has come to; it queues the next. A worker
that dies in the middle loses one step, and the next worker does that step again: no
draft is issued twice, none is left out.
"""

import uuid
from collections.abc import Collection
from datetime import date

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from billing.models import Invoice, IssueRun, Sequence
from billing.services.invoices import SERIES, issue_invoice
from billing.services.ledger import lock_clients
from practice import outbox
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change

STEP = 5
"""Drafts a transaction: few, since all numbers wait for it."""


@transaction.atomic
def start_run(
    *, by: User | None, today: date, drafts: Collection[uuid.UUID] = ()
) -> IssueRun:
    """Sets out to issue these drafts, or all there are. While a run is under way,
    asking again returns it.

    Raises Refused if there are no drafts.
    """
    # Two who press the button at once wait for each other.
    Practice.objects.select_for_update(no_key=True).get(pk=1)
    going = IssueRun.objects.select_for_update().filter(ended_at__isnull=True).first()
    if going is not None:
        return going
    rows = Invoice.objects.drafts().filter(lines__isnull=False).distinct()
    if drafts:
        rows = rows.filter(pk__in=drafts)
    keys = rows.order_by("visit__day", "client__name", "pk").values_list(
        "pk", flat=True
    )
    todo = list(dict.fromkeys(str(key) for key in keys))
    if not todo:
        raise Refused("There is no draft to issue.")
    run = IssueRun.objects.create(day=today, todo=todo, by=by)
    note_change(by=by, obj=run, action="started", after={"drafts": len(todo)})
    _queue(run)
    return run


def _queue(run: IssueRun) -> None:
    outbox.queue_job(
        kind="issue_drafts",
        payload={"run": str(run.pk), "at": run.at},
        key=f"issue_drafts:{run.pk}:{run.at}",
    )


def _day_for(run: IssueRun) -> date:
    """The run's day, or the one of the last number if somebody issued by hand on a
    later one meanwhile: numbers follow the calendar."""
    series = {SERIES[Invoice.Kind.INVOICE], SERIES[Invoice.Kind.PREPAYMENT]}
    rows = Sequence.objects.filter(series__in=series, last_day__gt=run.day)
    last: date | None = rows.aggregate(last=Max("last_day"))["last"]
    return last or run.day


@transaction.atomic
def step_job(*, run: str, at: int) -> None:
    """The outbox's job: issues the next few and queues the step after. A draft that
    can't be issued is noted with the reason; the others go on."""
    row = IssueRun.objects.select_for_update().get(pk=run)
    if row.ended_at is not None or row.at != at:
        return  # done by another
    keys = row.todo[at : at + STEP]
    drafts = Invoice.objects.filter(pk__in=keys)
    lock_clients(drafts.values_list("client", flat=True))
    found = {
        str(draft.pk): draft
        for draft in drafts.select_for_update(of=("self",)).order_by("pk")
    }
    refused = list(row.refused)
    day = _day_for(row)
    for key in keys:
        draft = found.get(key)
        if draft is None or not draft.is_draft:
            continue  # issued or discarded by hand meanwhile
        try:
            with transaction.atomic():
                issue_invoice(invoice=draft, by=row.by, today=day)
            row.issued += 1
        except Refused as refusal:
            refused.append([key, draft.client.name, refusal.sentence])
    row.refused = refused
    row.at = min(at + STEP, len(row.todo))
    if row.at >= len(row.todo):
        row.ended_at = timezone.now()
    row.save(update_fields=["refused", "issued", "at", "ended_at", "changed_at"])
    if row.ended_at is None:
        _queue(row)

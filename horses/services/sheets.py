"""Bringing a sheet in: all good rows in one transaction, or none.

What is certain and what is near, and how a row is known again when the sheet is
brought in a second time, is told in ``horses.sheets.matching``.
"""

import hashlib
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import Model
from django.utils import timezone

from horses.models import Horse, ReadRow, SheetImport, Visit, VisitRecord
from horses.services.horses import refresh_due_windows
from horses.services.ownership import give_first_owners
from horses.services.sheet_plan import Made, Plan, in_steps
from horses.services.sheet_planner import plan_sheet
from horses.sheets.dates import Order
from horses.sheets.fields import BadMapping
from horses.sheets.grid import NotASheet
from horses.sheets.record import Terms, digest
from practice.countries import proposals
from practice.errors import Refused
from practice.models import Barn, Client, Practice, User
from practice.services.changes import note_change

_WHOLE_UNITS = frozenset(
    {"CLP", "ISK", "JPY", "KRW", "PYG", "UGX", "VND", "XAF", "XOF"}
)
"""Currencies of ISO 4217 without a minor unit; from memory."""


def terms_for(
    *, practice: Practice | None, country: str, today: date, order: str = ""
) -> Terms:
    """How a sheet is read: by the country's customs, the practice's currency.

    Args:
        practice: None on an empty installation: the country's proposals hold.
        order: a value of ``Order``, or '' where nobody was asked.
    """
    currency = practice.currency if practice else proposals(country).currency
    return Terms(
        country=country,
        decimals=0 if currency in _WHOLE_UNITS else 2,
        today=today,
        order=Order(order) if order else None,
    )


def bring_in(
    *,
    name: str,
    data: bytes,
    terms: Terms,
    mapping: Mapping[str, str | None] | None = None,
    answers: Mapping[str, bool] | None = None,
    by: User | None,
) -> Plan:
    """Brings all good rows of a sheet in, in one transaction; bad rows wait.

    A sheet that says nothing new leaves every row of the database as it is.

    Raises:
        NotASheet, BadMapping: with one sentence each.
    """
    with transaction.atomic():
        _one_at_a_time()
        plan = plan_sheet(
            data=data, terms=terms, mapping=mapping or {}, answers=answers or {}
        )
        if not plan.changes_nothing:
            sheet = SheetImport.objects.create(
                name=name[:200],
                sha256=hashlib.sha256(data).hexdigest(),
                content=b"",
                country=terms.country,
                mapping=dict(mapping or {}),
                date_order=terms.order or "",
                state=SheetImport.State.BROUGHT_IN,
                counts=plan.counts(),
                by=by,
                brought_in_at=timezone.now(),
            )
            _carry_out(plan, sheet, by, terms.today)
    return plan


@transaction.atomic
def receive_sheet(*, name: str, data: bytes, by: User) -> SheetImport:
    """Keeps an uploaded sheet until it is confirmed.

    Raises:
        Refused: the file is no sheet; field ``file``.
    """
    practice = Practice.objects.the_one()
    terms = terms_for(
        practice=practice,
        country=practice.country,
        today=timezone.localdate(timezone=practice.zone),
    )
    try:
        plan_sheet(data=data, terms=terms, mapping={}, answers={})
    except NotASheet as error:
        # A sheet without our headings is kept: its columns can be matched by hand.
        if not error.has_columns:
            raise Refused(str(error), field="file") from error
    return SheetImport.objects.create(
        name=name[:200],
        sha256=hashlib.sha256(data).hexdigest(),
        content=data,
        country=practice.country,
        by=by,
    )


@transaction.atomic
def answer_sheet(
    *,
    sheet: SheetImport,
    mapping: Mapping[str, str | None] | None = None,
    date_order: str | None = None,
    answers: Mapping[str, bool] | None = None,
) -> SheetImport:
    """Keeps what a person said about a waiting sheet: its columns, the order of day
    and month, which near matches are the same. What is None stays.

    Raises:
        Refused: the sheet is in already, or the columns don't do.
    """
    sheet = SheetImport.objects.select_for_update().get(pk=sheet.pk)
    if sheet.state != SheetImport.State.WAITING:
        raise Refused("This sheet is in already: upload it again to change something.")
    if mapping is not None:
        sheet.mapping = dict(mapping)
        plan_of(sheet=sheet)
    if date_order is not None:
        sheet.date_order = date_order
    if answers is not None:
        sheet.answers = {**sheet.answers, **answers}
    sheet.save(update_fields=["mapping", "date_order", "answers", "changed_at"])
    return sheet


def plan_of(*, sheet: SheetImport) -> Plan:
    """What a waiting sheet would bring.

    Raises:
        Refused: the columns don't do; field ``mapping``.
    """
    practice = Practice.objects.the_one()
    terms = terms_for(
        practice=practice,
        country=sheet.country,
        today=timezone.localdate(timezone=practice.zone),
        order=sheet.date_order,
    )
    try:
        return plan_sheet(
            data=bytes(sheet.content),
            terms=terms,
            mapping=sheet.mapping,
            answers=sheet.answers,
        )
    except (NotASheet, BadMapping) as error:
        raise Refused(str(error), field="mapping") from error


@transaction.atomic
def confirm_sheet(*, sheet: SheetImport, by: User) -> SheetImport:
    """Brings a waiting sheet in and drops its file; harmless to repeat.

    Raises:
        Refused: the columns don't do.
    """
    _one_at_a_time()
    sheet = SheetImport.objects.select_for_update().get(pk=sheet.pk)
    if sheet.state == SheetImport.State.BROUGHT_IN:
        return sheet
    plan = plan_of(sheet=sheet)
    today = timezone.localdate(timezone=Practice.objects.the_one().zone)
    sheet.counts = {**plan.counts(), "rows_bad": len(plan.bad)}
    sheet.state = SheetImport.State.BROUGHT_IN
    sheet.brought_in_at = timezone.now()
    sheet.content = b""
    sheet.by = by
    sheet.save(
        update_fields=[
            "counts",
            "state",
            "brought_in_at",
            "content",
            "by",
            "changed_at",
        ]
    )
    if not plan.changes_nothing:
        _carry_out(plan, sheet, by, today)
    return sheet


@transaction.atomic
def drop_sheet(*, sheet: SheetImport) -> None:
    """Forgets a waiting sheet with its file; one that is in stays."""
    SheetImport.objects.filter(pk=sheet.pk, state=SheetImport.State.WAITING).delete()


def _one_at_a_time() -> None:
    """Two imports wait for each other, or the second would make everything again
    (SQLite's writing transactions do anyway)."""
    Practice.objects.select_for_update().filter(pk=1).first()


# --- writing ------------------------------------------------------------------------


def _carry_out(plan: Plan, sheet: SheetImport, by: User | None, today: date) -> None:
    clients = _write(Client, plan.clients)
    barns = _write(Barn, plan.barns)
    for horse in plan.horses:
        if horse.is_new and horse.barn is not None:
            horse.fields["barn"] = barns[horse.barn]
        elif "barn" in horse.fields:
            horse.fields["barn"] = barns[horse.fields["barn"]]
    horses = _write(Horse, plan.horses)
    give_first_owners(
        pairs=[
            (horses[at], clients[horse.owner], _owned_from(plan, horse.rows, today))
            for at, horse in enumerate(plan.horses)
            if horse.is_new
        ]
    )
    records = _write_visits(plan, horses, barns, by)
    _write_rows(plan, sheet, clients, barns, horses, records)
    touched = {at for visit in plan.visits for at in visit.to_record}
    touched |= {at for at, horse in enumerate(plan.horses) if horse.state != "same"}
    refresh_due_windows(horses=(horses[at].pk for at in touched), today=today)
    note_change(by=by, obj=sheet, action="brought in", after=plan.counts())


def _write(model: type[Model], several: Iterable[Made]) -> list[Any]:
    """Makes the new, changes the changed; gives a row for each, in order."""
    plans = list(several)
    rows: list[Any] = [
        model(**one.fields) if one.is_new else model(pk=one.pk) for one in plans
    ]
    manager = model._default_manager
    new = [row for row, one in zip(rows, plans, strict=True) if one.is_new]
    manager.bulk_create(new, batch_size=500)
    now = timezone.now()
    for one in plans:
        if one.state == "changed":
            manager.filter(pk=one.pk).update(**one.fields, changed_at=now)
    return rows


def _owned_from(plan: Plan, rows: list[int], today: date) -> date:
    days = [day for place in rows if (day := plan.rows[place].last_visit)]
    return min(days, default=today)


def _write_visits(
    plan: Plan, horses: list[Horse], barns: list[Barn], by: User | None
) -> dict[tuple[int, date], VisitRecord]:
    """The records made, by place of the horse and day."""
    now = timezone.now()
    made: dict[int, Visit] = {}
    for at, visit in enumerate(plan.visits):
        if visit.state == "new":
            made[at] = Visit(
                barn=barns[visit.barn] if visit.barn is not None else None,
                day=visit.day,
                kind=Visit.Kind.BROUGHT_IN,
                state=Visit.State.CLOSED,
                closed_at=now,
                closed_by=by,
            )
    Visit.objects.bulk_create(made.values(), batch_size=500)
    works = _usual_works(plan, horses)
    records = {
        (at, visit.day): VisitRecord(
            visit_id=made[number].pk if visit.pk is None else visit.pk,
            horse=horses[at],
            work_id=works.get(horses[at].pk),
            is_recorded=True,
        )
        for number, visit in enumerate(plan.visits)
        for at in visit.to_record
    }
    _take_back(plan.moved)
    VisitRecord.objects.bulk_create(records.values(), batch_size=500)
    return records


def _usual_works(plan: Plan, horses: list[Horse]) -> dict[int, int]:
    found: dict[int, int] = {}
    keys = {horses[at].pk for visit in plan.visits for at in visit.to_record}
    for some in in_steps(keys):
        usual = Horse.objects.filter(pk__in=some, usual_work__isnull=False)
        found.update(usual.values_list("pk", "usual_work"))
    return found


def _take_back(moved: list[VisitRecord]) -> None:
    """Removes imported records that the sheet corrects, and visits left empty."""
    for some in in_steps({record.pk for record in moved}):
        VisitRecord.objects.filter(pk__in=some).delete()
    for some in in_steps({record.visit_id for record in moved}):
        Visit.objects.filter(
            pk__in=some, kind=Visit.Kind.BROUGHT_IN, records__isnull=True
        ).delete()


def _write_rows(
    plan: Plan,
    sheet: SheetImport,
    clients: list[Client],
    barns: list[Barn],
    horses: list[Horse],
    records: dict[tuple[int, date], VisitRecord],
) -> None:
    new: list[ReadRow] = []
    changed: list[ReadRow] = []
    written: set[Any] = set()
    for place, row in enumerate(plan.rows):
        values = row.values()
        said = digest(values)
        before = plan.said_before.get(place)
        mark = before.pk if before else (plan.identities[place], said)
        if mark in written or (before and before.said == said):
            continue
        written.add(mark)
        owner, barn = plan.owner_of_row[place], plan.barn_of_row[place]
        horse = plan.horse_of_row[place]
        record = records.get((horse, row.last_visit)) if row.last_visit else None
        kept = before or ReadRow(identity=plan.identities[place])
        kept.said, kept.values, kept.sheet = said, values, sheet
        kept.client = clients[owner] if owner is not None else None
        kept.barn = barns[barn] if barn is not None else None
        kept.horse = horses[horse]
        if record is not None:
            kept.record = record
        (changed if before else new).append(kept)
    ReadRow.objects.bulk_create(new, batch_size=500)
    now = timezone.now()
    for kept in changed:
        kept.changed_at = now
    ReadRow.objects.bulk_update(
        changed,
        ["said", "values", "sheet", "client", "barn", "horse", "record", "changed_at"],
        batch_size=200,
    )

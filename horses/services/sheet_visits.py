"""Last visits of a sheet as attendances: which stand already, which are to be made.

A last visit becomes a closed visit of the kind 'from an imported sheet', one for all
horses that were at one barn on one day (horses without a barn: one an owner and day).
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from horses.models import ReadRow, Visit, VisitRecord
from horses.services.sheet_plan import HorsePlan, VisitPlan, in_steps
from horses.sheets.record import SheetRow

_Spot = tuple[str, int | None, date]  # barn or owner, place in the plan, day


def plan_visits(
    *,
    rows: Sequence[SheetRow],
    horses: Sequence[HorsePlan],
    horse_of_row: Sequence[int],
    barn_of_row: Sequence[int | None],
    owner_of_row: Sequence[int | None],
    barn_pks: Sequence[int | None],
    said_before: Mapping[int, ReadRow],
) -> tuple[list[VisitPlan], list[VisitRecord]]:
    """The visits of the rows, and the imported records that the sheet now corrects.

    A row whose last visit is later than what it said before adds a visit. One whose
    last visit is earlier corrects what the sheet had said, so the record made from
    that goes: a last visit can't go back.
    """
    known = _Known(horses)
    visits: dict[Any, VisitPlan] = {}
    spots: dict[_Spot, VisitPlan] = {}
    waiting: list[tuple[_Spot, int]] = []
    moved = []
    for place, row in enumerate(rows):
        if row.last_visit is None:
            continue
        day, horse = row.last_visit, horse_of_row[place]
        barn = barn_of_row[place]
        spot: _Spot = (
            ("owner", owner_of_row[place], day) if barn is None else ("barn", barn, day)
        )
        before = said_before.get(place)
        stands = known.standing(horses[horse].pk, day, before)
        if stands is not None:
            visit = visits.setdefault(stands, VisitPlan(barn, day, stands))
            if stands in known.brought_in:
                spots.setdefault(spot, visit)
            continue
        waiting.append((spot, horse))
        if before and before.record and known.corrects(before.record, day):
            moved.append(before.record)
    stood = _brought_in_at(barn_pks, {spot[2] for spot, _ in waiting})
    for spot, horse in waiting:
        kind, at, day = spot
        barn = at if kind == "barn" else None
        pk = (
            stood.get((barn_pks[at], day))
            if kind == "barn" and at is not None
            else None
        )
        if spot not in spots:
            mark = pk or spot
            spots[spot] = visits.setdefault(mark, VisitPlan(barn, day, pk))
        spots[spot].to_record[horse] = None
    return list(visits.values()), moved


class _Known:
    """The closed visits of the horses that the practice has already."""

    def __init__(self, horses: Iterable[HorsePlan]) -> None:
        self.by_horse: dict[tuple[int, date], UUID] = {}
        self.brought_in: set[UUID] = set()
        for some in in_steps(horse.pk for horse in horses if horse.pk):
            records = VisitRecord.objects.filter(
                horse__in=some,
                visit__state=Visit.State.CLOSED,
                visit__kind__in=[Visit.Kind.ATTENDED, Visit.Kind.BROUGHT_IN],
            )
            for horse, day, visit, kind in records.values_list(
                "horse", "visit__day", "visit", "visit__kind"
            ):
                self.by_horse[horse, day] = visit
                if kind == Visit.Kind.BROUGHT_IN:
                    self.brought_in.add(visit)

    def standing(
        self, horse: int | None, day: date, before: ReadRow | None
    ) -> UUID | None:
        """The visit that a row's last visit already is, if any."""
        if before and before.record and before.record.visit.day == day:
            return before.record.visit_id
        return self.by_horse.get((horse, day)) if horse is not None else None

    @staticmethod
    def corrects(record: VisitRecord, day: date) -> bool:
        visit = record.visit
        return visit.kind == Visit.Kind.BROUGHT_IN and day < visit.day


def _brought_in_at(
    barn_pks: Sequence[int | None], days: set[date]
) -> dict[tuple[int | None, date], UUID]:
    """Imported visits that stand at these barns, by barn and day."""
    found: dict[tuple[int | None, date], UUID] = {}
    if not days:
        return found
    for some in in_steps(pk for pk in barn_pks if pk is not None):
        visits = Visit.objects.filter(
            barn__in=some,
            kind=Visit.Kind.BROUGHT_IN,
            day__range=(min(days), max(days)),
        )
        for pk, barn, day in visits.values_list("pk", "barn", "day"):
            found[barn, day] = pk
    return found

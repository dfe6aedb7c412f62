"""Barns with their access hours, and areas."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time
from decimal import Decimal
from itertools import pairwise
from typing import Any
from uuid import UUID

from django.db import transaction

from practice import names
from practice.errors import Refused
from practice.geo import Position
from practice.models import AccessHours, Area, Barn, Client, User
from practice.services.changes import note_change
from practice.services.once import made_once

FIELDS = (
    "name",
    "street",
    "town",
    "post_code",
    "country",
    "area",
    "run_by",
    "phone",
    "setup_minutes",
    "typed_drive_minutes",
    "directions",
    "standing",
    "notes",
)
_LONG = frozenset({"directions", "standing", "notes"})


@dataclass(frozen=True, slots=True)
class Hours:
    """When a barn can be attended: ISO weekday (Monday is 1), from and to."""

    weekday: int
    opens: time
    closes: time


class _Same:
    """That a position or the hours are not to be changed."""


SAME = _Same()


@transaction.atomic
def add_barn(
    *,
    by: User | None,
    name: str,
    key: UUID | None = None,
    position: Position | None = None,
    hours: Sequence[Hours] = (),
    **fields: Any,
) -> Barn:
    """Adds a barn with its access hours.

    Args:
        key: client-made; a second call with it gives the first one's barn.
        position: None where it isn't known: such a barn goes last in a round, with
            typed minutes.
        hours: none: always open.

    Raises:
        Refused: no name, hours that overlap or end before they begin.
    """

    def make() -> Barn:
        cleaned = _cleaned({"name": name, **fields})
        barn = Barn.objects.create(**cleaned, **_degrees(position))
        _set_hours(barn, hours)
        note_change(by=by, obj=barn, action="added", after={"name": barn.name})
        return barn

    said = {"name": name, "position": position, "hours": hours, **fields}
    return made_once(key=key, model=Barn, said=said, make=make)


@transaction.atomic
def change_barn(
    *,
    barn: Barn,
    by: User | None,
    position: Position | _Same | None = SAME,
    hours: Sequence[Hours] | _Same = SAME,
    **fields: Any,
) -> Barn:
    """Changes the named fields of a barn, its position, its hours.

    Raises:
        Refused: as for adding.
    """
    barn = Barn.objects.select_for_update().get(pk=barn.pk)
    wanted = _cleaned({**{name: getattr(barn, name) for name in FIELDS}, **fields})
    if not isinstance(position, _Same):
        wanted |= _degrees(position)
    changed = {name: new for name, new in wanted.items() if getattr(barn, name) != new}
    before = {name: _plain(getattr(barn, name)) for name in changed}
    for name, value in changed.items():
        setattr(barn, name, value)
    if changed:
        barn.save(update_fields=[*changed, "changed_at"])
    after = {name: _plain(value) for name, value in changed.items()}
    if not isinstance(hours, _Same):
        had = [str(row) for row in barn.access_hours.all()]
        _set_hours(barn, hours)
        have = [str(row) for row in barn.access_hours.all()]
        if had != have:
            before["access_hours"], after["access_hours"] = had, have
    if after:
        note_change(by=by, obj=barn, action="changed", before=before, after=after)
    return barn


@transaction.atomic
def set_barn_active(*, barn: Barn, active: bool, by: User | None) -> Barn:
    """Puts a barn aside, out of lists and choices, or brings one back."""
    barn = Barn.objects.select_for_update().get(pk=barn.pk)
    if barn.is_active == active:
        return barn
    barn.is_active = active
    barn.save(update_fields=["is_active", "changed_at"])
    action = "brought back" if active else "put aside"
    note_change(by=by, obj=barn, action=action)
    return barn


@transaction.atomic
def name_area(*, name: str, by: User | None, area: Area | None = None) -> Area:
    """Adds an area, or renames one. The same name twice is one area.

    Raises:
        Refused: no name, or another area has it.
    """
    tidy = names.squeeze(name)
    if not tidy:
        raise Refused("Give the area a name.", field="name")
    same = Area.objects.filter(name__iexact=tidy).first()
    if area is None:
        if same is not None:
            return same
        area = Area.objects.create(name=tidy)
        note_change(by=by, obj=area, action="added", after={"name": tidy})
        return area
    if same is not None and same.pk != area.pk:
        raise Refused(f"There is an area {same.name} already.", field="name")
    before = area.name
    if before != tidy:
        area.name = tidy
        area.save(update_fields=["name", "changed_at"])
        note_change(
            by=by,
            obj=area,
            action="renamed",
            before={"name": before},
            after={"name": tidy},
        )
    return area


@transaction.atomic
def remove_area(*, area: Area, by: User | None) -> None:
    """Removes an area; its barns stay, without one."""
    note_change(by=by, obj=area, action="removed", before={"name": area.name})
    area.delete()


def _set_hours(barn: Barn, hours: Sequence[Hours]) -> None:
    ordered = sorted(hours, key=lambda row: (row.weekday, row.opens))
    for row in ordered:
        if row.closes <= row.opens:
            raise Refused("Access ends before it begins.", field="access_hours")
    for one, other in pairwise(ordered):
        if one.weekday == other.weekday and other.opens < one.closes:
            raise Refused(
                "Two times of one day overlap: make them one.", "access_hours"
            )
    have = [Hours(h.weekday, h.opens, h.closes) for h in barn.access_hours.all()]
    if have == ordered:
        return
    barn.access_hours.all().delete()
    AccessHours.objects.bulk_create(
        AccessHours(barn=barn, weekday=row.weekday, opens=row.opens, closes=row.closes)
        for row in ordered
    )


def _degrees(position: Position | None) -> dict[str, Decimal | None]:
    if position is None:
        return {"latitude": None, "longitude": None}
    return {
        "latitude": Decimal(f"{position.lat:.6f}"),
        "longitude": Decimal(f"{position.lon:.6f}"),
    }


def _cleaned(fields: dict[str, Any]) -> dict[str, Any]:
    unknown = set(fields) - set(FIELDS)
    if unknown:
        raise TypeError(f"Barn has no changeable field {', '.join(sorted(unknown))}")
    cleaned = {name: _tidy(name, value) for name, value in fields.items()}
    if not cleaned.get("name"):
        raise Refused("Give the barn a name.", field="name")
    return cleaned


def _tidy(name: str, value: Any) -> Any:
    if not isinstance(value, str):
        return value
    # Blank lines between paragraphs are the writer's own.
    if name in _LONG:
        return value.replace("\r\n", "\n").strip()
    return names.squeeze(value)


def _plain(value: Any) -> Any:
    if isinstance(value, Area | Client | Decimal):
        return str(value)
    return value

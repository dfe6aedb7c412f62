"""The demo's intervals: a vet's weeks, and a slip of the keys to be found."""

from datetime import date, timedelta
from typing import Any

from horses.models import FootRecord, Horse, HorseInterval


def intervals_of_set(found: dict[str, Any], today: date) -> None:
    """What horses with a story have of their own: ``vet`` and ``slip`` of the set."""
    horses = {horse.name: horse for horse in Horse.objects.all()}
    for told in found["horses"]:
        horse = horses[told["name"]]
        if vet := told.get("vet"):
            HorseInterval.objects.create(
                horse=horse,
                vet_weeks=vet["weeks"],
                vet_name=vet["name"],
                vet_said_on=today - timedelta(days=vet["ago"]),
                vet_until=today + timedelta(days=vet["until"]),
                vet_note=vet["note"],
            )
        if slip := told.get("slip"):
            _mistype(horse, *slip)


def _mistype(horse: Horse, foot: str, name: str, by_mm: int) -> None:
    """The last such reading with a wrong digit."""
    row = (
        FootRecord.objects.filter(record__horse=horse, foot=foot)
        .order_by("-record__visit__day")
        .first()
    )
    if row is not None:
        setattr(row, name, getattr(row, name) + by_mm)
        row.save(update_fields=[name, "changed_at"])

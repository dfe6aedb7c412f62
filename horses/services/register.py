"""The practice's horses: entering one, changing what is known of it."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any, TypedDict, Unpack
from uuid import UUID

from django.db import transaction
from django.db.models import Model

from horses.identity import parse_microchip, parse_ueln
from horses.models import Horse, Work
from horses.services.horses import refresh_due_window
from horses.services.ownership import check_shares, set_owners
from practice.errors import Refused
from practice.models import Barn, Client, User
from practice.services.changes import note_change
from practice.services.once import made_once

#: A small foal to the largest draught horse. From memory, wide on purpose.
MASS_KG = (20, 1500)
HEIGHT_MM = (400, 2300)
#: The oldest horse on record died at 62. From memory.
OLDEST_YEARS = 65
_MOVES_WINDOW = frozenset(
    {
        *("interval_weeks", "status", "use"),
        *("foaled_year", "foaled_on", "usual_work"),
    }
)
"""What a due window follows from."""


class HorseFields(TypedDict, total=False):
    """What can be said of a horse. Lengths millimetres, mass kilograms."""

    name: str
    barn: Barn | None
    breed: str
    foaled_year: int | None
    foaled_on: date | None
    sex: str
    colour: str
    height_mm: int | None
    mass_kg: int | None
    use: str
    use_note: str
    ueln: str
    microchip: str
    cautions: str
    conformation: str
    interval_weeks: int | None
    usual_work: Work | None
    usual_work_note: str
    agreed_price: Decimal | None
    status: str
    notes: str


@transaction.atomic
def create_horse(
    *,
    by: User | None,
    today: date,
    key: UUID | None = None,
    owners: Mapping[Client, Decimal] | None = None,
    owners_from: date | None = None,
    **fields: Unpack[HorseFields],
) -> Horse:
    """Enters a horse, with its due window and, if named, its owners.

    Args:
        today: the practice's day.
        key: chosen by whoever asks, so that the same request makes one horse.
        owners: percent by client, adding up to exactly 100.
        owners_from: their first day; today if left out.

    Raises:
        Refused: with the field to mend.
    """
    if owners is not None:
        check_shares(owners)

    def make() -> Horse:
        horse = Horse(**_checked(Horse(), fields, today=today))
        horse.save()
        told = _told(horse, list(fields))
        note_change(by=by, obj=horse, action="create horse", after=told)
        if owners:
            starts = owners_from or today
            set_owners(horse=horse, shares=owners, starts=starts, by=by)
        refresh_due_window(horse=horse, today=today)
        return horse

    said = {**fields, "owners": owners, "owners_from": owners_from}
    return made_once(key=key, model=Horse, said=said, make=make)


@transaction.atomic
def change_horse(
    *, horse: Horse, by: User | None, today: date, **fields: Unpack[HorseFields]
) -> Horse:
    """Changes what is said of a horse: only the fields that are named. Its due window
    follows; it ends with a horse that is sold, dead, moved or resting. Saying the same
    again changes nothing.

    Raises:
        Refused: with the field to mend.
    """
    row = Horse.objects.select_for_update().get(pk=horse.pk)
    checked = _checked(row, fields, today=today)
    changed = [name for name, value in checked.items() if getattr(row, name) != value]
    if not changed:
        return row
    before = _told(row, changed)
    for name in changed:
        setattr(row, name, checked[name])
    row.save(update_fields=[*changed, "changed_at"])
    note_change(
        by=by,
        obj=row,
        action="change horse",
        before=before,
        after=_told(row, changed),
    )
    if _MOVES_WINDOW & set(changed):
        refresh_due_window(horse=row, today=today)
    return row


def _checked(row: Horse, fields: HorseFields, *, today: date) -> dict[str, Any]:
    """The fields as they are kept, each held to its rule.

    Args:
        row: the horse as it is; a blank one for a new horse.
    """
    kept: dict[str, Any] = dict(fields)
    for name, value in kept.items():
        if isinstance(value, str):
            kept[name] = value.strip()
    if not kept.get("name", row.name):
        raise Refused("Give the horse a name.", field="name")
    _check_choices(kept)
    _check_figures(kept)
    _check_foaling(row, kept, today=today)
    for name, parse in (("ueln", parse_ueln), ("microchip", parse_microchip)):
        if name in kept:
            kept[name] = parse(kept[name])
            _check_unshared(row, name, kept[name])
    work = kept.get("usual_work")
    if work is not None and not Work.objects.on_horses().filter(pk=work.pk).exists():
        raise Refused(f"{work} is not work on a horse.", field="usual_work")
    return kept


def _check_choices(kept: Mapping[str, Any]) -> None:
    for name, choices, may_be_blank in (
        ("sex", Horse.Sex.values, True),
        ("use", Horse.Use.values, True),
        ("status", Horse.Status.values, False),
    ):
        value = kept.get(name)
        if value is None or (value == "" and may_be_blank):
            continue
        if value not in choices:
            raise Refused(f"Choose one of: {', '.join(choices)}.", field=name)


def _check_figures(kept: Mapping[str, Any]) -> None:
    for name, (least, most), word in (
        ("interval_weeks", (1, 52), "The interval is 1 to 52 weeks."),
        ("mass_kg", MASS_KG, "Give the mass in kilograms, 20 to 1500."),
        ("height_mm", HEIGHT_MM, "Give the height at the withers, 40 to 230 cm."),
        ("agreed_price", (0, 9_999_999), "A price is not below nothing."),
    ):
        value = kept.get(name)
        if value is not None and not least <= value <= most:
            raise Refused(word, field=name)


def _check_foaling(row: Horse, kept: dict[str, Any], *, today: date) -> None:
    born = kept.get("foaled_on", row.foaled_on)
    if "foaled_on" in kept and born is not None:
        kept.setdefault("foaled_year", born.year)
        kept["foaled_year"] = kept["foaled_year"] or born.year
        if born > today:
            raise Refused("It can't be foaled after today.", field="foaled_on")
    year = kept.get("foaled_year", row.foaled_year)
    if born is not None and year is not None and year != born.year:
        raise Refused(
            f"The day of foaling is in {born.year}; mend the year or the day.",
            field="foaled_year",
        )
    if year is not None and not today.year - OLDEST_YEARS <= year <= today.year:
        raise Refused(
            f"Give a year from {today.year - OLDEST_YEARS} to {today.year}.",
            field="foaled_year",
        )


def _check_unshared(row: Horse, name: str, number: str) -> None:
    """No two horses carry one number."""
    if not number:
        return
    other = Horse.objects.filter(**{name: number}).exclude(pk=row.pk).first()
    if other is not None:
        raise Refused(
            f"{other.name} is entered with this number. Mend the one that is wrong.",
            field=name,
        )


def _told(row: Horse, names: list[str]) -> dict[str, Any]:
    """These fields as the audit trail keeps them."""
    told: dict[str, Any] = {}
    for name in names:
        value = getattr(row, name)
        if isinstance(value, Model):
            told[name] = value.pk
        elif isinstance(value, Decimal | date):
            told[name] = str(value)
        else:
            told[name] = value
    return told

"""Areas taken up, from a proposal or as drawn: named, their barns put in."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction

from practice.errors import Refused
from practice.models import Area, Barn, User
from practice.services.barns import change_barn, name_area
from practice.services.changes import note_change
from scheduling.areas import Outline
from scheduling.models import AreaOutline


@transaction.atomic
def take_areas(*, named: Mapping[str, Sequence[Barn]], by: User) -> int:
    """Puts barns into the areas of these names, which are made where there are none;
    all other barns stay where they are. Again: the same.

    Returns:
        how many barns changed their area.

    Raises:
        Refused: nothing named.
    """
    if not named:
        raise Refused("Name at least one area.")
    changed = 0
    for name, barns in named.items():
        area = name_area(name=name, by=by)
        for barn in barns:
            if barn.area_id != area.pk:
                change_barn(barn=barn, by=by, area=area)
                changed += 1
    return changed


@dataclass(frozen=True, slots=True)
class Drawn:
    """What came of drawing an area: how many barns came in, went out, and stayed in
    another area."""

    area: Area
    joined: int
    left: int
    elsewhere: int


@transaction.atomic
def draw_area(
    *,
    name: str,
    barns: Collection[int],
    by: User,
    area: Area | None = None,
    leaving: Collection[int] = (),
    outline: Outline = (),
    from_others: bool = True,
) -> Drawn:
    """Puts barns into an area and keeps its outline. Again: the same.

    Args:
        name: of an area that is there, or of a new one; renames `area`.
        barns: keys of those that are to be in it. A barn has one area: it leaves the
            one it was in.
        leaving: keys of those that are to be in no area, if they are still in this one.
        outline: none takes away what was kept.
        from_others: whether barns that are in another area leave it for this one.

    Raises:
        Refused: no name, the name of another area, neither barn nor outline.
    """
    if not barns and not outline and area is None:
        raise Refused("Draw round some barns, or tick one.")
    area = name_area(name=name, by=by, area=area)
    _keep_outline(area=area, outline=outline, by=by)
    wanted = set(barns)
    rows = (
        Barn.objects.active()
        .filter(pk__in=wanted | set(leaving))
        .select_for_update(of=("self",))
        .order_by("pk")
    )
    joined = left = elsewhere = 0
    for barn in rows:
        if barn.pk not in wanted:
            if barn.area_id == area.pk:
                change_barn(barn=barn, by=by, area=None)
                left += 1
        elif barn.area_id is not None and barn.area_id != area.pk and not from_others:
            elsewhere += 1
        elif barn.area_id != area.pk:
            change_barn(barn=barn, by=by, area=area)
            joined += 1
    return Drawn(area, joined, left, elsewhere)


def _keep_outline(*, area: Area, outline: Outline, by: User) -> None:
    row = AreaOutline.objects.select_for_update().filter(area=area).first()
    corners = AreaOutline.rounded(outline)
    if (row.corners if row else []) == corners:
        return
    if not corners:
        AreaOutline.objects.filter(area=area).delete()
    else:
        AreaOutline.objects.update_or_create(area=area, defaults={"corners": corners})
    after = {"outline_corners": len(corners)}
    before = {"outline_corners": len(row.corners) if row else 0}
    note_change(by=by, obj=area, action="drawn", before=before, after=after)


@transaction.atomic
def take_into(*, barn: Barn, area: Area, by: User) -> bool:
    """Puts a barn that is in no area into one. Whether it is in it now: another may
    have put it elsewhere meanwhile."""
    now = Barn.objects.select_for_update(of=("self",)).get(pk=barn.pk)
    if now.area_id is None:
        change_barn(barn=now, by=by, area=area)
        return True
    return now.area_id == area.pk

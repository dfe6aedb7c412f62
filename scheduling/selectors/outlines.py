"""Areas drawn on the map: the barns to choose among, and whose outline holds a barn."""

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Count

from horses.models import Horse
from practice.geo import Position, distance_metres, way
from practice.models import Area, Barn, Practice
from scheduling.areas import Outline, around, inside
from scheduling.drawing import Dot, Region, draw_map
from scheduling.models import AreaOutline
from scheduling.selectors.plans import home_of, position_of

MOST_BARNS: Final = 500
TONES: Final = 8
BY_HOME: Final = "home"
BY_MAP: Final = "map"


@dataclass(frozen=True, slots=True)
class Pick:
    """A barn that may be ticked. way: metres and wind from the place that the list is
    sorted by; None without one."""

    barn: Barn
    horses: int
    way: tuple[float, str] | None
    ticked: bool


@dataclass(frozen=True, slots=True)
class Drawing:
    """The page on which an area is drawn. tones: each area with the class of its
    colour."""

    picks: tuple[Pick, ...]
    map: str
    tones: tuple[tuple[Area, str], ...]


def barns_to_draw() -> list[Barn]:
    """The barns that an area may have. One query."""
    rows = Barn.objects.active().select_related("area").order_by("name", "pk")
    return list(rows[:MOST_BARNS])


def outline_of(area: Area | None) -> Outline:
    """The outline that is kept with an area. One query."""
    row = AreaOutline.objects.filter(area=area).first() if area else None
    return row.places if row else ()


def belonging(area: Area, barns: Sequence[Barn], outline: Outline) -> set[int]:
    """Keys of an area's barns, and of those in no area that its outline holds."""
    return {
        barn.pk
        for barn in barns
        if barn.area_id == area.pk
        or (barn.area_id is None and _holds(outline, position_of(barn)))
    }


def round_the_ticked(barns: Sequence[Barn], ticked: Collection[int]) -> Outline:
    """The outline round those barns that are ticked and have a position."""
    places = [position_of(barn) for barn in barns if barn.pk in ticked]
    return around([place for place in places if place])


def drawing(
    *,
    barns: Sequence[Barn],
    area: Area | None,
    ticked: Collection[int],
    outline: Outline,
    order: str,
) -> Drawing:
    """The list and the map for drawing an area (`area` None: a new one). Four
    queries."""
    practice = Practice.objects.the_one()
    counts = dict(
        Horse.objects.active()
        .filter(barn__in=barns)
        .values_list("barn")
        .annotate(n=Count("pk"))
    )
    areas = list(Area.objects.order_by("name"))
    tones = {one.pk: f"area-{n % TONES}" for n, one in enumerate(areas)}
    start = _start(order, barns, practice)
    picks = [
        Pick(
            barn=barn,
            horses=counts.get(barn.pk, 0),
            way=way(start, at) if start and at else None,
            ticked=barn.pk in ticked,
        )
        for barn in barns
        for at in [position_of(barn)]
    ]
    picks.sort(key=_rank)
    dots = [
        Dot(
            key=str(barn.pk),
            at=at,
            label=barn.name,
            tone=tones.get(barn.area_id or 0, "no-area")
            + (" is-in" if barn.pk in ticked else ""),
            named=True,
        )
        for barn in barns
        if (at := position_of(barn))
    ]
    svg = draw_map(
        (),
        home=home_of(practice),
        dots=dots,
        regions=_regions(area, outline, tones),
        measured=True,
        unit=practice.road_unit,
        title="Map of the barns",
        height=480,
    )
    return Drawing(tuple(picks), svg, tuple((one, tones[one.pk]) for one in areas))


def areas_round(barn: Barn) -> list[Area]:
    """The areas that a barn in none may be put in, since their outlines hold it; where
    outlines overlap, that of the nearest barn first. At most two queries."""
    at = position_of(barn)
    if barn.area_id is not None or at is None:
        return []
    return _nearest_first(at, _outlines(), Barn.objects.active())


def waiting() -> list[tuple[Barn, Area]]:
    """Barns in no area that an outline holds, with the area that they are proposed.
    At most two queries."""
    rows = _outlines()
    if not rows:
        return []
    barns = list(Barn.objects.active().order_by("name", "pk"))
    found = []
    for barn in barns:
        at = position_of(barn)
        if barn.area_id is None and at is not None:
            found += [(barn, area) for area in _nearest_first(at, rows, barns)[:1]]
    return found


def _outlines() -> list[AreaOutline]:
    return list(AreaOutline.objects.select_related("area").order_by("area__name"))


def _nearest_first(
    at: Position, rows: Iterable[AreaOutline], barns: Iterable[Barn]
) -> list[Area]:
    """The areas whose outlines hold a place, by their barn nearest to it."""
    found = [row.area for row in rows if inside(at, row.places)]
    if len(found) > 1:
        near: dict[int | None, float] = {}
        for other in barns:
            if place := position_of(other):
                metres = distance_metres(at, place)
                near[other.area_id] = min(metres, near.get(other.area_id, metres))
        found.sort(key=lambda area: near.get(area.pk, math.inf))
    return found


def _regions(
    area: Area | None, outline: Outline, tones: dict[int, str]
) -> list[Region]:
    """The other areas' outlines, and this one's on top."""
    others = [
        Region(str(row.area_id), row.places, row.area.name, tones[row.area_id])
        for row in _outlines()
        if area is None or row.area_id != area.pk
    ]
    own = [Region("drawn", outline, "The outline", "is-drawn")] if outline else []
    return [*others, *own]


def _start(order: str, barns: Sequence[Barn], practice: Practice) -> Position | None:
    if order == BY_MAP:
        return None
    chosen = next((barn for barn in barns if str(barn.pk) == order), None)
    return position_of(chosen) if chosen else home_of(practice)


def _rank(pick: Pick) -> tuple[bool, float, float, str]:
    """By distance; without a place to sort by from west to east, then north to south;
    barns without a position last."""
    at = position_of(pick.barn)
    name = pick.barn.name
    if at is None:
        return True, 0, 0, name
    if pick.way:
        return False, pick.way[0], 0, name
    return False, at.lon, -at.lat, name


def _holds(outline: Outline, at: Position | None) -> bool:
    return bool(outline) and at is not None and inside(at, outline)

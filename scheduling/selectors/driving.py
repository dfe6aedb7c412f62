"""What the page of drives shows: where each figure comes from, and what was learnt."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING
from uuid import UUID

from django.conf import settings
from django.utils import timezone

from practice.geo import Position
from practice.models import Barn, Message, Practice
from scheduling.models import DrivenRoad, RoadMap, TravelSettings
from scheduling.selectors.plans import home_of, position_of
from scheduling.selectors.travel import known_travel, learnt_pace, pace_of

if TYPE_CHECKING:
    from scheduling.driving import Calibration, Pace

MOST_BARNS = 400
MOST_MAPS = 5
SILENT_FOR = timedelta(seconds=90)
MOST_SHOWN = 60
MOST_DRIVES_SHOWN = 25
SOURCE_WORDS = {
    "estimate": "estimate",
    "roads": "road map",
    "engine": "road engine",
    "none": "",
}


@dataclass(frozen=True, slots=True)
class FromHome:
    """The drive from home to a barn and where its figure comes from."""

    barn: Barn
    minutes: int
    metres: int
    source: str


@dataclass(frozen=True, slots=True)
class MapView:
    """A road map, and how its reading stands. is_given_up: its job died too often."""

    row: RoadMap
    is_given_up: bool = False
    is_silent: bool = False

    @property
    def is_unfinished(self) -> bool:
        """Whether it is being read, or will be."""
        return self.row.state in RoadMap.UNFINISHED and not self.is_given_up


@dataclass(frozen=True, slots=True)
class DrivingPage:
    """All of the page. counts: drives between home and barns by source."""

    engine: str
    engine_trouble: str
    maps: tuple[MapView, ...]
    row: TravelSettings | None
    pace: "Pace"
    calibration: "Calibration"
    counts: tuple[tuple[str, int], ...]
    from_home: tuple[FromHome, ...]
    driven: tuple[DrivenRoad, ...]

    @property
    def is_reading(self) -> bool:
        """Whether a road map is being read, or will be."""
        return any(one.is_unfinished for one in self.maps)


def driving_page() -> DrivingPage:
    """Thirteen queries at the most."""
    from scheduling.driving import Pace

    row = TravelSettings.objects.filter(pk=1).first()
    pace = pace_of(row) if row else Pace()
    home, barns = _places()
    places = [*([home] if home else []), *(at for _, at in barns)]
    counts, from_home = _drives(home, barns, places)
    engine, trouble = engine_words()
    return DrivingPage(
        engine=engine,
        engine_trouble=trouble,
        maps=road_maps(),
        row=row,
        pace=pace,
        calibration=learnt_pace(places, pace),
        counts=counts,
        from_home=from_home,
        driven=tuple(DrivenRoad.objects.select_related("farrier")[:MOST_DRIVES_SHOWN]),
    )


def road_maps() -> tuple[MapView, ...]:
    """The road maps that are in use, read or failed. One query, two while one is read."""
    rows = list(RoadMap.objects.exclude(state=RoadMap.State.REPLACED)[:MOST_MAPS])
    keys = {road_map_key(one.pk): one for one in rows if one.state in one.UNFINISHED}
    over = Message.objects.filter(
        key__in=keys, state__in=[Message.State.FAILED, Message.State.LET_GO]
    )
    given_up = {keys[one.key].pk for one in over} if keys else set()
    since = timezone.now() - SILENT_FOR
    return tuple(
        MapView(
            row,
            is_given_up=row.pk in given_up,
            is_silent=row.state == RoadMap.State.READING and row.changed_at < since,
        )
        for row in rows
    )


def road_map_key(pk: UUID) -> str:
    """The key of its reading in the outbox."""
    return f"road-map-{pk}"


def engine_words() -> tuple[str, str]:
    """The engine that the operator named, and what is wrong with its settings."""
    if not (settings.ROAD_ENGINE or settings.ROAD_ENGINE_URL):
        return "", ""
    from scheduling.travel.engines import Engine

    try:
        engine = Engine(settings.ROAD_ENGINE, settings.ROAD_ENGINE_URL)
    except ValueError as error:
        return "", str(error)
    return engine.kind, ""


def _places() -> tuple[Position | None, list[tuple[Barn, Position]]]:
    barns = [
        (barn, at)
        for barn in Barn.objects.active().order_by("name")[:MOST_BARNS]
        if (at := position_of(barn))
    ]
    return home_of(Practice.objects.the_one()), barns


def _drives(
    home: Position | None,
    barns: Sequence[tuple[Barn, Position]],
    places: Sequence[Position],
) -> tuple[tuple[tuple[str, int], ...], tuple[FromHome, ...]]:
    travel = known_travel(places)
    counts = tuple(
        (SOURCE_WORDS[name], count) for name, count in travel.counted().items() if count
    )
    if home is None:
        return counts, ()
    rows = []
    for barn, at in barns:
        drive = travel.drive(home, at)
        source = SOURCE_WORDS[travel.source_of(home, at)]
        rows.append(FromHome(barn, drive.minutes, drive.metres, source))
    rows.sort(key=lambda one: (one.minutes, one.barn.name))
    return counts, tuple(rows[:MOST_SHOWN])

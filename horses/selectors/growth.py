"""What growth is reckoned from: measurements, facts, policy; and whence each came."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.db.models import FloatField, QuerySet, TextField
from django.db.models.functions import Cast

from horses.models import (
    Finding,
    FootRecord,
    Horse,
    HorseInterval,
    IntervalLimits,
    IntervalSettings,
    Visit,
    VisitRecord,
    Work,
)
from horses.models.interval import LIMITS
from practice.models import Practice

if TYPE_CHECKING:
    # Growth stands on numpy: only who reckons loads it, not every process at its start.
    from horses.growth import Hemisphere, Policy, Priors, Reading, Record, Season

YEARS_BACK = 3
"""Older measurements say little of today's growth. Ours."""

SEASONS = ("spring", "summer", "autumn", "winter")
_ORDER = (
    ("least_weeks", "most_weeks"),
    ("most_weeks", "latest_weeks"),
    ("least_weeks", "latest_weeks"),
)

LOST_SHOE = "lost_shoe"
SHOD = frozenset({FootRecord.Work.NEW_SHOE, FootRecord.Work.RESET})
_SHOEING = frozenset({Work.Kind.NEW_SHOES, Work.Kind.RESET})
_COUNTS = (Visit.Kind.ATTENDED, Visit.Kind.BROUGHT_IN)


@dataclass(frozen=True, slots=True)
class House:
    """What holds for all horses, read once. Three queries."""

    practice: Practice
    settings: IntervalSettings
    limits: Mapping[str, IntervalLimits]
    season: Season
    priors: Priors

    @property
    def length_sd_mm(self) -> float:
        """The tape's error, as the practice knows it; never none at all."""
        return max(float(self.practice.length_sd_mm), 0.1)


def house() -> House:
    """What holds for all horses today."""
    practice = Practice.objects.the_one()
    settings = IntervalSettings.objects.the_one()
    return House(
        practice=practice,
        settings=settings,
        limits={row.use: row for row in IntervalLimits.objects.all()},
        season=season_of(settings, practice),
        priors=priors_of(settings),
    )


# ---- Season and prior --------------------------------------------------------------
def hemisphere_of(settings: IntervalSettings, practice: Practice) -> Hemisphere:
    """As set, else by home, else north."""
    if settings.hemisphere == IntervalSettings.Hemisphere.SOUTH:
        return "south"
    if settings.hemisphere == IntervalSettings.Hemisphere.NORTH:
        return "north"
    south = practice.home_latitude is not None and practice.home_latitude < 0
    return "south" if south else "north"


def season_of(settings: IntervalSettings, practice: Practice) -> Season:
    """The months' factors: the practice's four, turned by hemisphere; else what its
    records taught; else ours."""
    from horses.growth import Season, default_season

    hemisphere = hemisphere_of(settings, practice)
    four = [getattr(settings, name) for name in SEASONS]
    if any(value is None for value in four):
        kept = (settings.prior or {}).get("season") if settings.learns else None
        return Season.of(kept) if kept else default_season(hemisphere)
    spring, summer, autumn, winter = (float(value) for value in four)
    months = (
        *(winter, winter, spring, spring, spring, summer),
        *(summer, summer, autumn, autumn, autumn, winter),
    )
    season = Season.of(months)
    return season.turned if hemisphere == "south" else season


def priors_of(settings: IntervalSettings) -> Priors:
    """Where horses start: what the practice's records taught, else the published."""
    from horses.growth import Priors, default_priors

    if settings.learns and settings.prior:
        return Priors.from_dict(settings.prior["priors"])
    return default_priors()


def learnt_as_dict(priors: Priors, season: Season | None) -> dict[str, Any]:
    """As JSON keeps what the records taught."""
    factors = list(season.factors) if season else None
    return {"season": factors, "priors": priors.as_dict()}


# ---- Policy ------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Said:
    """A limit that holds, and who says so: ``horse``, ``use``, ``practice`` or ``ours``."""

    value: float
    by: str


def own_policy(horse: Horse) -> HorseInterval | None:
    """The horse's own policy, if it has one. No query after ``select_related``."""
    return getattr(horse, "interval_policy", None)


def limits_said(
    use: str, own: HorseInterval | None, limits: Mapping[str, IntervalLimits]
) -> dict[str, Said]:
    """Each limit that somebody has set: the horse's own, else its use's, else the
    practice's. What nobody has set is not in it."""
    found: dict[str, Said] = {}
    rows = (("horse", own), ("use", limits.get(use) if use else None))
    for name in LIMITS:
        for by, row in (*rows, ("practice", limits.get(""))):
            value = getattr(row, name, None)
            if value is not None:
                found[name] = Said(float(value), by)
                break
    for one, other in _ORDER:
        if one in found and other in found and found[one].value > found[other].value:
            _give_way(found, one, other)
    return found


def _give_way(found: dict[str, Said], one: str, other: str) -> None:
    """Of two weeks that contradict each other the more specific stands."""
    ranks = ("horse", "use", "practice")
    if ranks.index(found[one].by) <= ranks.index(found[other].by):
        found[other] = found[one]
    else:
        found[one] = found[other]


def way_of(horse: Horse, house: House, *, today: date) -> str:
    """How the horse's day is found: ``vet``, ``set``, ``growth`` or ``usual``.

    A vet's weeks win over all while they hold. Set weeks win unless the farrier has
    said otherwise, for this horse or for all.
    """
    own = own_policy(horse)
    if own is not None and own.vet_weeks_on(today) is not None:
        return "vet"
    said = own.way if own is not None else ""
    keeps = said == HorseInterval.Way.SET or (not said and house.settings.set_weeks_win)
    if horse.interval_weeks is not None and keeps:
        return "set"
    if house.settings.reckons or said == HorseInterval.Way.GROWTH:
        return "growth"
    return "usual" if horse.interval_weeks is None else "set"


def policy_of(horse: Horse, house: House, *, today: date) -> Policy:
    """The policy by which the horse's window is found on ``today``.

    The practice's usual interval counts as set weeks, where nothing is reckoned.
    """
    from horses.growth import policy_for

    own = own_policy(horse)
    way = way_of(horse, house, today=today)
    said = limits_said(horse.use, own, house.limits)
    changes = {name: one.value for name, one in said.items()}
    if way == "vet":
        assert own is not None
        changes["vet_weeks"] = float(own.vet_weeks_on(today) or 0)
    elif way == "set":
        changes["set_weeks"] = float(horse.interval_weeks or 0)
    elif way == "usual":
        changes["set_weeks"] = float(house.practice.default_interval_weeks)
    return policy_for(horse.use, age_years(horse, today), **changes)


def age_years(horse: Horse, today: date) -> int | None:
    """Age by the calendar year, as growth counts it; None if nobody knows."""
    if horse.foaled_year is None:
        return None
    return max(0, today.year - horse.foaled_year)


# ---- Measurements ------------------------------------------------------------------
@dataclass(slots=True)
class Measured:
    """One horse's record for growth, and which visit record each day's figures are in
    (its key as text)."""

    record: Record
    sources: dict[date, str] = field(default_factory=dict)

    def source(self, day: date) -> UUID | None:
        """The record that holds the day's figures."""
        key = self.sources.get(day)
        return UUID(key) if key else None


def closed_records(keys: Collection[int]) -> QuerySet[VisitRecord]:
    """Records of these horses that count: of closed visits that took place."""
    return VisitRecord.objects.filter(
        horse__in=keys, visit__state=Visit.State.CLOSED, visit__kind__in=_COUNTS
    )


def measured(horses: Iterable[Horse], *, today: date) -> dict[int, Measured]:
    """What was measured of these horses in closed visits, by primary key. Three queries.

    Args:
        horses: with ``usual_work``; some hundreds at once, for SQLite's sake.
    """
    stock = {horse.pk: horse for horse in horses}
    since = today - timedelta(days=round(365.25 * YEARS_BACK))
    last: dict[int, date] = {}
    visits: dict[int, list[tuple[date, str]]] = defaultdict(list)
    rows = closed_records(stock).order_by("visit__day", "pk")
    for pk, horse, day in rows.values_list(_text("pk"), "horse_id", "visit__day"):
        last[horse] = day
        if day >= since:
            visits[horse].append((day, pk))
    counted = closed_records(stock).filter(visit__day__gte=since)
    feet, lost = _feet(counted), _lost(counted)
    return {
        pk: _measured(horse, last.get(pk), visits[pk], feet, lost)
        for pk, horse in stock.items()
    }


_FIGURES = (
    "dorsal_length_mm",
    "trimmed_length_mm",
    "dorsal_angle_deg",
    "trimmed_angle_deg",
    "length_mm",
    "widest_from_toe_mm",
    "heel_angle_deg",
)
_UNKNOWN: tuple[float | None, ...] = (None, None, None)
_Foot = tuple[Any, ...]
"""Foot, work, and then ``_FIGURES``."""


class _Number(Cast):
    """A decimal as the database's own float. To make decimals of them all takes most of
    a second for two thousand horses; to look at each float again, half of one."""

    def __init__(self, name: str) -> None:
        super().__init__(name, FloatField())

    def get_db_converters(self, connection: object) -> list[Any]:
        return []


def _text(name: str) -> Cast:
    """A key as text: to make UUIDs of them all costs more than to read them."""
    return Cast(name, TextField())


def _feet(records: QuerySet[VisitRecord]) -> dict[str, list[_Foot]]:
    """What was measured of each foot, by record. One query."""
    rows = (
        FootRecord.objects.filter(record__in=records.order_by().values("pk"))
        .order_by()
        .values_list(
            _text("record_id"),
            "foot",
            "work",
            *(_Number(name) for name in _FIGURES),
        )
    )
    found: dict[str, list[_Foot]] = defaultdict(list)
    for row in rows:
        found[row[0]].append(row[1:])
    return found


def _lost(records: QuerySet[VisitRecord]) -> set[tuple[str, str]]:
    """The feet that came without their shoe, by record. One query."""
    rows = Finding.objects.filter(
        kind=LOST_SHOE, foot_record__record__in=records.order_by().values("pk")
    )
    return set(rows.values_list(_text("foot_record__record_id"), "foot_record__foot"))


def _measured(
    horse: Horse,
    last: date | None,
    visits: Sequence[tuple[date, str]],
    feet: Mapping[str, list[_Foot]],
    lost: Collection[tuple[str, str]],
) -> Measured:
    from horses.growth import HorseFacts, Reading, Record, Shape

    readings: dict[tuple[str, date], Reading] = {}
    went: dict[str, bool] = {}
    shapes: dict[Any, tuple[float | None, ...]] = {}
    for day, pk in visits:
        for foot, work, before, after, angle, trimmed_angle, *shape in feet.get(pk, ()):
            if shape != [None, None, None]:
                shapes[foot] = _latest(shape, shapes.get(foot, _UNKNOWN))
            alone = work == FootRecord.Work.NONE
            came_off = (pk, foot) in lost
            if (
                alone
                and not came_off
                and {before, after, angle, trimmed_angle} == {None}
            ):
                continue  # seen, neither trimmed nor measured: nothing ends here
            one = Reading(
                foot,
                day,
                before,
                before if alone and after is None else after,
                angle if trimmed_angle is None else trimmed_angle,
                went.get(foot),
                came_off,
            )
            held = readings.get((foot, day))
            readings[foot, day] = one if held is None else _over_the_day(held, one)
            if work and not alone:
                went[foot] = work in SHOD
    facts = HorseFacts(
        use=horse.use,
        foaled_year=horse.foaled_year,
        shod=is_shod(horse, went.values()),
        last_visit=last,
        shapes={foot: Shape(*known) for foot, known in shapes.items()},
    )
    return Measured(Record(facts, tuple(readings.values())), dict(visits))


def _latest(
    news: Sequence[float | None], known: Sequence[float | None]
) -> tuple[float | None, ...]:
    return tuple(
        old if new is None else new for new, old in zip(news, known, strict=True)
    )


def _over_the_day(first: Reading, again: Reading) -> Reading:
    """A foot of two visits of one day: as it came to the first, as it left the last."""
    angle = again.angle_after_deg
    return again._replace(
        before_mm=again.before_mm if first.before_mm is None else first.before_mm,
        after_mm=first.after_mm if again.after_mm is None else again.after_mm,
        angle_after_deg=first.angle_after_deg if angle is None else angle,
        shod=first.shod,
        lost_shoe=first.lost_shoe or again.lost_shoe,
    )


def is_shod(horse: Horse, feet: Iterable[bool | None]) -> bool:
    """Whether the horse goes shod: on any foot as last done, else by its usual work,
    else by its use."""
    known = [one for one in feet if one is not None]
    if known:
        return any(known)
    if horse.usual_work is not None:
        return horse.usual_work.kind in _SHOEING
    return horse.use not in {
        Horse.Use.YOUNGSTOCK,
        Horse.Use.BREEDING,
        Horse.Use.COMPANION,
        Horse.Use.RETIRED,
    }

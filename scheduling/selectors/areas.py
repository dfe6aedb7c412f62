"""Areas: proposed from drives, and a year of each."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Sum
from django.db.models.functions import TruncMonth

from horses.models import Horse, Visit
from practice.models import Area, Barn, Practice
from scheduling.drawing import Mark, draw_map
from scheduling.models import UsualDay
from scheduling.selectors.handling import handling_of, minutes_at
from scheduling.selectors.plans import home_of, position_of
from scheduling.selectors.travel import known_travel
from scheduling.year_chart import Month, Scale, year_chart

MOST_BARNS = 500
MONTHS = 12
CLUSTER_TONES = 8


# --- proposed areas -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ProposedArea:
    """Barns near each other. name: the area that most of them are in already, else the
    middle one's town."""

    number: int
    name: str
    barns: tuple[Barn, ...]
    spread: int
    horses: int


@dataclass(frozen=True, slots=True)
class Proposal:
    """Areas whose barns lie within about ``apart`` minutes of each other on average,
    and their map."""

    apart: int
    areas: tuple[ProposedArea, ...]
    map: str


def proposed_areas(apart: int | None) -> Proposal:
    """Areas from the drives between barns. ``apart`` None: as many minutes as give a
    handful of them. Five queries."""
    from scheduling.areas import clusters, usual_apart

    placed = Barn.objects.active().filter(latitude__isnull=False)
    barns = list(placed.select_related("area").order_by("name", "pk")[:MOST_BARNS])
    places = [position_of(barn) for barn in barns]
    points = [place for place in places if place]
    horses = dict(
        Horse.objects.active()
        .filter(barn__in=barns)
        .values_list("barn")
        .annotate(n=Count("pk"))
    )
    found: list[ProposedArea] = []
    taken: set[str] = set()
    minutes = known_travel(points).minutes
    apart = apart or usual_apart(minutes)
    for number, one in enumerate(clusters(minutes, apart), 1):
        inside = tuple(barns[i] for i in one.members)
        name = _name(inside, taken)
        taken.add(name.casefold())
        count = sum(horses.get(barn.pk, 0) for barn in inside)
        found.append(ProposedArea(number, name, inside, one.spread, count))
    return Proposal(apart, tuple(found), _map(found))


def _name(barns: Sequence[Barn], taken: set[str]) -> str:
    """The name that most of them go by already, unless another group has it."""
    known = Counter(barn.area.name for barn in barns if barn.area)
    towns = Counter(barn.town for barn in barns if barn.town)
    wishes = [name for name, _ in (*known.most_common(), *towns.most_common())]
    wishes.append(barns[0].name)
    return next((name for name in wishes if name.casefold() not in taken), "")


def _map(areas: Sequence[ProposedArea]) -> str:
    practice = Practice.objects.the_one()
    marks = [
        Mark(
            key=str(barn.pk),
            at=at,
            number=str(area.number),
            label=barn.name,
            tone=f"area-{area.number % CLUSTER_TONES}",
            href=f"#area-{area.number}",
        )
        for area in areas
        for barn in area.barns
        if (at := position_of(barn))
    ]
    return draw_map(
        marks,
        home=home_of(practice),
        unit=practice.road_unit,
        title="Map of the areas",
    )


# --- a year of each area -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MonthOf:
    """A month of an area: visits, horses, minutes of driving to its barns."""

    month: date
    visits: int
    horses: int
    drive: int

    @property
    def drive_a_horse(self) -> float | None:
        return self.drive / self.horses if self.horses else None


@dataclass(frozen=True, slots=True)
class AreaYear:
    """An area with its year. weekly_minutes: work a week that its horses ask for by
    their intervals. days: (farrier, weekday) on which it is served. scale: of the charts
    of all areas."""

    area: Area | None
    barns: int
    horses: int
    weekly_minutes: int
    days: tuple[str, ...]
    months: tuple[MonthOf, ...]
    scale: Scale

    @property
    def visits(self) -> int:
        return sum(one.visits for one in self.months)

    @property
    def treated(self) -> int:
        return sum(one.horses for one in self.months)

    @property
    def drive(self) -> int:
        return sum(one.drive for one in self.months)

    @property
    def drive_a_horse(self) -> float | None:
        return self.drive / self.treated if self.treated else None

    @property
    def chart(self) -> str:
        """Horses and drive by month as SVG."""
        name = self.area.name if self.area else "no area"
        months = [Month(m.month, m.horses, m.drive_a_horse) for m in self.months]
        return year_chart(f"A year of {name}", months, self.scale)


def years(*, today: date) -> list[AreaYear]:
    """Each area and what lies in none, over the last twelve months. Nine queries."""
    first = _months_back(today, MONTHS - 1)
    months = [_months_back(today, MONTHS - 1 - n) for n in range(MONTHS)]
    barns: Counter[int | None] = Counter(
        Barn.objects.active().values_list("area", flat=True)
    )
    horses: Counter[int | None] = Counter()
    weekly: dict[int | None, float] = defaultdict(float)
    usual = Practice.objects.the_one().default_interval_weeks
    standing = list(
        Horse.objects.active()
        .filter(barn__isnull=False)
        .select_related("barn", "usual_work")
    )
    handling = handling_of(standing)
    for horse in standing:
        assert horse.barn
        horses[horse.barn.area_id] += 1
        weeks = horse.interval_weeks or usual
        weekly[horse.barn.area_id] += minutes_at(horse, handling) / max(1, weeks)
    told = _visited(first, today)
    days = defaultdict(list)
    for row in UsualDay.objects.filter(area__isnull=False).select_related("farrier"):
        days[row.area_id].append(f"{row.farrier.name}, {row.get_weekday_display()}")
    scale = Scale(
        horses=max((one[1] for one in told.values()), default=1),
        drive=max((one[2] / one[1] for one in told.values() if one[1]), default=1),
    )
    areas: list[Area | None] = list(Area.objects.order_by("name"))
    if barns[None]:
        areas.append(None)
    found = []
    for area in areas:
        key = area.pk if area else None
        found.append(
            AreaYear(
                area=area,
                barns=barns[key],
                horses=horses[key],
                weekly_minutes=round(weekly[key]),
                days=tuple(days.get(key, ())),
                months=tuple(
                    MonthOf(month, *told.get((key, month), (0, 0, 0)))
                    for month in months
                ),
                scale=scale,
            )
        )
    return found


def _visited(
    first: date, today: date
) -> dict[tuple[int | None, date], tuple[int, int, int]]:
    """Visits, horses and driving by area and month. Two queries, because one with both
    would count the driving once a horse."""
    visits = Visit.objects.filter(
        day__gte=first, day__lte=today, kind=Visit.Kind.ATTENDED, barn__isnull=False
    ).annotate(month=TruncMonth("day"))
    by = ("barn__area", "month")
    drives = {
        (area, month): (count, minutes or 0)
        for area, month, count, minutes in visits.values(*by)
        .annotate(n=Count("pk"), minutes=Sum("travel_minutes"))
        .order_by()
        .values_list(*by, "n", "minutes")
    }
    horses = {
        (area, month): count
        for area, month, count in visits.values(*by)
        .annotate(n=Count("records"))
        .order_by()
        .values_list(*by, "n")
    }
    return {
        key: (count, horses.get(key, 0), minutes)
        for key, (count, minutes) in drives.items()
    }


def _months_back(day: date, count: int) -> date:
    """The first of the month so many months before the day's."""
    months = day.year * 12 + day.month - 1 - count
    return date(months // 12, months % 12 + 1, 1)

"""A season of lateness, read from the records of closed visits."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from horses.hoof import Foot
from horses.lateness import (
    LONGEST_DAYS,
    Drift,
    Kept,
    Rate,
    Share,
    Worn,
    by_shoe,
    by_weeks_on,
    drifting,
    overall,
    shares,
)
from horses.models import Finding, FootRecord, Horse, Shoe, Visit, VisitRecord
from horses.selectors.growth import SHOD, House, house, measured, policy_of
from practice.models import User

LOST = "lost_shoe"
"""The finding by which a lost shoe is recorded."""

UNSAID = "shoe not described"
_STEP = 500
"""Horses at once, for SQLite's sake."""


@dataclass(frozen=True, slots=True)
class DriftingHorse:
    """A horse that drifts late, with its row."""

    horse: Horse
    drift: Drift


@dataclass(frozen=True, slots=True)
class Month:
    """One month's growth: see ``horses.growth.months``."""

    month: int
    rate_mm_per_week: float
    foot_weeks: float
    expected: float


@dataclass(frozen=True, slots=True)
class Lateness:
    """All that the report shows, for intervals that ended from ``since`` to ``until``."""

    since: date
    until: date
    intervals: int
    mean_late_days: float
    shares: tuple[Share, ...]
    drifting: tuple[DriftingHorse, ...]
    months: tuple[Month, ...]
    all_shoes: Rate | None
    by_weeks_on: tuple[Rate, ...]
    by_shoe: tuple[Rate, ...]

    @property
    def is_empty(self) -> bool:
        """No interval ended in this time."""
        return not self.intervals


@dataclass(frozen=True, slots=True)
class _FootSeen:
    """One foot at one visit."""

    horse: int
    foot: Foot
    day: date
    work: str
    shoe: str
    is_lost: bool


def lateness(*, viewer: User, since: date, until: date) -> Lateness:
    """The report. Ten queries for up to 500 horses, three more for each further 500."""
    horses = {
        row.pk: row
        for row in Horse.objects.visible_to(viewer)
        .select_related("barn", "interval_policy", "usual_work")
        .order_by("pk")
    }
    rules = house()
    first = since - timedelta(days=LONGEST_DAYS)
    records = VisitRecord.objects.visible_to(viewer).filter(
        visit__day__range=(first, until),
        visit__state=Visit.State.CLOSED,
        visit__kind__in=[Visit.Kind.ATTENDED, Visit.Kind.BROUGHT_IN],
    )
    grown = _records(list(horses.values()), today=until)
    kept = [one for one in _intervals(records) if one.end >= since]
    kept = _with_wanted(kept, horses, grown, rules, today=until)
    worn = [one for one in _worn(_feet(records)) if one.until >= since]
    return Lateness(
        since=since,
        until=until,
        intervals=len(kept),
        mean_late_days=sum(one.late_days for one in kept) / max(len(kept), 1),
        shares=shares(kept),
        drifting=tuple(
            DriftingHorse(horses[one.horse], one)
            for one in drifting(kept)
            if horses[one.horse].status == Horse.Status.ACTIVE
        ),
        months=_months(list(grown.values()), rules, since=since, until=until),
        all_shoes=overall(worn),
        by_weeks_on=by_weeks_on(worn),
        by_shoe=by_shoe(worn),
    )


def _intervals(records: Any) -> Iterator[Kept]:
    """Intervals between visits on which the horse was done; what is wanted isn't said
    yet. One query.
    """
    last: dict[int, date] = {}
    rows = records.order_by("horse", "visit__day").values_list("horse", "visit__day")
    for horse, day in rows:
        before = last.get(horse)
        if before is not None and 0 < (day - before).days <= LONGEST_DAYS:
            yield Kept(horse, before, day, 0)
        last[horse] = day


def _records(horses: Sequence[Horse], *, today: date) -> dict[int, Any]:
    """What was measured of each horse, for growth. Three queries for each 500."""
    found: dict[int, Any] = {}
    for start in range(0, len(horses), _STEP):
        some = measured(horses[start : start + _STEP], today=today)
        found |= {pk: one.record for pk, one in some.items()}
    return found


def _with_wanted(
    kept: Sequence[Kept],
    horses: dict[int, Horse],
    grown: dict[int, Any],
    rules: House,
    *,
    today: date,
) -> list[Kept]:
    """With the days to the target that each interval's first day would be given now:
    by today's policy and estimate, in the season of that day. No query.
    """
    from horses.growth import estimate_all, windows_all

    estimates = dict(
        zip(
            grown,
            estimate_all(
                list(grown.values()),
                as_of=today,
                priors=rules.priors,
                season=rules.season,
                length_sd_mm=rules.length_sd_mm,
            ),
            strict=True,
        )
    )
    asked = {
        pk: policy_of(horses[pk], rules, today=today) for pk in {k.horse for k in kept}
    }
    due = windows_all(
        [estimates[one.horse] for one in kept],
        [asked[one.horse] for one in kept],
        season=rules.season,
        starts=[one.start for one in kept],
    )
    return [
        replace(one, wanted_days=(window.target - one.start).days)
        for one, window in zip(kept, due, strict=True)
    ]


def _feet(records: Any) -> Iterator[_FootSeen]:
    """Feet by horse, foot and day. Two queries."""
    lost: set[tuple[UUID, str]] = set(
        Finding.objects.filter(
            kind=LOST, foot_record__record__in=records.order_by().values("pk")
        ).values_list("foot_record__record", "foot_record__foot")
    )
    rows = (
        FootRecord.objects.filter(record__in=records.order_by().values("pk"))
        .order_by("record__horse", "foot", "record__visit__day", "pk")
        .values_list(
            "record__horse",
            "foot",
            "record__visit__day",
            "work",
            "record",
            "shoe__profile",
            "shoe__metal",
            "shoe__section_width_mm",
            "shoe__section_thickness_mm",
        )
    )
    for horse, foot, day, work, record, *shoe in rows.iterator(chunk_size=2000):
        yield _FootSeen(
            horse,
            foot,  # type: ignore[arg-type]  # a constraint holds it to the four
            day,
            work,
            shoe_label(*shoe),
            (record, foot) in lost,
        )


def shoe_label(profile: Any, metal: Any, width: Any, thickness: Any) -> str:
    """``22 × 10 mm fullered steel``: what is said of a shoe; empty if nothing is."""
    section = ""
    if width and thickness:
        section = f"{width:f} × {thickness:f} mm".replace(".0 ", " ")
    words = (
        section,
        dict(Shoe.Profile.choices).get(profile or "", ""),
        dict(Shoe.Metal.choices).get(metal or "", ""),
    )
    return " ".join(str(word) for word in words if word)


@dataclass(slots=True)
class _Wearing:
    """What a foot wears as its visits are walked through."""

    shoe: str
    nailed_on: date
    seen: date


def _worn(feet: Iterator[_FootSeen]) -> Iterator[Worn]:
    """From visit to visit of each foot, the shoe that was on it."""
    wears: dict[tuple[int, Foot], _Wearing | None] = defaultdict(lambda: None)
    for one in feet:
        key = (one.horse, one.foot)
        was = wears[key]
        if was is not None and 0 < (one.day - was.seen).days <= LONGEST_DAYS:
            yield Worn(
                one.horse,
                one.foot,
                was.shoe,
                was.nailed_on,
                was.seen,
                one.day,
                one.is_lost,
            )
        if one.work in SHOD:
            # A reset without a shoe described is the same shoe, nailed on again.
            same = was.shoe if was is not None and one.work != "new_shoe" else UNSAID
            wears[key] = _Wearing(one.shoe or same, one.day, one.day)
        elif one.work in ("", FootRecord.Work.NONE) and was and not one.is_lost:
            was.seen = one.day
        else:
            wears[key] = None


def _months(
    records: Sequence[Any], rules: House, *, since: date, until: date
) -> tuple[Month, ...]:
    """Growth by month, of all horses. No query."""
    from horses.growth.months import growth_by_month

    return tuple(
        Month(one.month, one.rate_mm_per_week, one.foot_weeks, one.expected)
        for one in growth_by_month(
            records,
            as_of=until,
            since=since,
            priors=rules.priors,
            season=rules.season,
            length_sd_mm=rules.length_sd_mm,
        )
    )

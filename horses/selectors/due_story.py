"""Why a horse is due when it is: the chart, what would change it, what is questionable."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING
from uuid import UUID

from horses.drawing.due import Ahead, DueChart, Gained
from horses.hoof import FOOT_NAMES
from horses.models import Horse
from horses.selectors.growth import (
    House,
    Measured,
    house,
    limits_said,
    measured,
    own_policy,
    policy_of,
    way_of,
)
from horses.selectors.intervals import Limit, as_limits
from horses.trends import said
from practice.models import Practice
from practice.units import LengthUnit

if TYPE_CHECKING:
    from horses.growth import Estimate, Left, Window

SHOWN_INTERVALS = 3
"""So many intervals stand on the chart before the one that runs. Ours."""
AIR_DAYS = 10

_FIGURES = {
    "before_mm": "toe length before the trim",
    "after_mm": "toe length after the trim",
    "angle_after_deg": "toe angle",
    "day": "the day",
}


@dataclass(frozen=True, slots=True)
class Slip:
    """A reading that doesn't fit. ``record``: where it is mended; ``value`` as read."""

    code: str
    foot: str
    day: date
    what: str
    value: str
    why: str
    record: UUID | None


@dataclass(frozen=True, slots=True)
class DueStory:
    """All that the page says of the next visit beside the stored window."""

    way: str
    chart: DueChart | None
    would_change: tuple[str, ...]
    slips: tuple[Slip, ...]
    limits: tuple[Limit, ...]
    measured_intervals: int
    last_visit: date | None
    left: tuple[Left, ...] = field(default=())


def due_story(
    horse: Horse, *, today: date, left_to_day: date | None = None
) -> DueStory:
    """The story of the horse's next visit, reckoned anew for its page. Six queries.

    Args:
        horse: active, with ``usual_work`` and ``interval_policy``.
        left_to_day: what the feet come to if they are left alone until then.
    """
    from horses.growth import estimate, left_to, window, would_change

    held = house()
    told = measured([horse], today=today)[horse.pk]
    found = estimate(
        told.record,
        as_of=today,
        priors=held.priors,
        season=held.season,
        length_sd_mm=held.length_sd_mm,
    )
    policy = policy_of(horse, held, today=today)
    due = window(found, policy, season=held.season)
    left: tuple[Left, ...] = ()
    if left_to_day is not None and found.last_visit is not None:
        left = left_to(found, left_to_day, season=held.season)
    return DueStory(
        way=way_of(horse, held, today=today),
        chart=_chart(told, found, due, held, today),
        would_change=would_change(found, due, policy) if found.last_visit else (),
        slips=_slips(told, found, held.practice),
        limits=as_limits(
            policy,
            limits_said(horse.use, own_policy(horse), held.limits),
            _unit(held.practice),
        ),
        measured_intervals=found.intervals,
        last_visit=found.last_visit,
        left=left,
    )


def _unit(practice: Practice) -> LengthUnit:
    unit: LengthUnit = practice.length_unit  # type: ignore[assignment]  # of three
    return unit


# ---- The chart ---------------------------------------------------------------------
def _chart(
    told: Measured, found: Estimate, due: Window, held: House, today: date
) -> DueChart | None:
    """The foot that is due first; none before there was a visit."""
    from horses.growth import left_to

    last = found.last_visit
    if last is None:
        return None
    end = max(due.latest, min(today, due.latest + timedelta(days=60)))
    end += timedelta(days=AIR_DAYS)
    step = max(3, (end - last).days // 14)
    days = [*(last + timedelta(days=n) for n in range(0, (end - last).days, step)), end]
    ahead = []
    for day in days:
        feet = {one.foot: one for one in left_to(found, day, season=held.season)}
        ahead.append(Ahead(day, feet[due.foot].gain_mm))
    return DueChart(
        foot=due.foot,
        past=_past(told, found, due.foot),
        ahead=tuple(ahead),
        limit_mm=due.gain_mm if due.gain_mm < 100 else None,
        earliest=due.earliest,
        target=due.target,
        latest=due.latest,
        today=today,
        length_unit=_unit(held.practice),
    )


def _past(told: Measured, found: Estimate, foot: str) -> tuple[Gained, ...]:
    """The last intervals: length before this trim less length after the last."""
    slips = {(one.day, one.key) for one in found.questionable if one.foot == foot}
    rows = {one.day: one for one in told.record.readings if one.foot == foot}
    days = sorted(told.sources)
    gained = []
    for start, end in pairwise(days):
        first, then = rows.get(start), rows.get(end)
        gain = None
        if first and then and first.after_mm is not None and then.before_mm is not None:
            gain = then.before_mm - first.after_mm
        odd = {(start, "after_mm"), (end, "before_mm")} & slips
        gained.append(Gained(start, end, gain, bool(odd)))
    return tuple(gained[-SHOWN_INTERVALS:])


# ---- Words -------------------------------------------------------------------------
def _slips(told: Measured, found: Estimate, practice: Practice) -> tuple[Slip, ...]:
    rows = {(one.foot, one.day): one for one in told.record.readings}
    slips = []
    for one in found.questionable:
        value = getattr(rows.get((one.foot, one.day)), one.key, None)
        words = ""
        if isinstance(value, float):
            sign = "°" if one.key == "angle_after_deg" else "mm"
            words = said(value, sign, _unit(practice))  # type: ignore[arg-type]  # of two units
        slips.append(
            Slip(
                code=one.foot,
                foot=FOOT_NAMES[one.foot],
                day=one.day,
                what=_FIGURES[one.key],
                value=words,
                why=one.why,
                record=told.source(one.day),
            )
        )
    return tuple(sorted(slips, key=lambda slip: slip.day, reverse=True))

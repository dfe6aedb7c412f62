"""What changed on a horse's feet up to one record."""

from collections.abc import Iterable
from dataclasses import dataclass

from horses.hoof import FEET, FOOT_NAMES, Foot
from horses.models import VisitRecord
from horses.selectors.trends import measured_visits
from horses.trends import Change, Measure, Series, follow, over_a_year, since_last
from practice.models import Practice, User


@dataclass(frozen=True, slots=True)
class Step:
    """One change; ``since`` says over what: ``since`` or ``over a year, from``."""

    measure: Measure
    since: str
    change: Change


@dataclass(frozen=True, slots=True)
class FootChanges:
    """A foot's changes: those that are real, and how many of all are not."""

    name: str
    real: tuple[Step, ...]
    compared: int

    @property
    def within(self) -> int:
        """How many are within the error of measuring."""
        return self.compared - len(self.real)


@dataclass(frozen=True, slots=True)
class Changes:
    """The feet that can be compared, and the readings left out as slips."""

    feet: tuple[FootChanges, ...]
    slips: int


def changes_of(*, record: VisitRecord, viewer: User, practice: Practice) -> Changes:
    """What differs on this record from the last reading and from a year before; later
    visits are left aside. Two queries.
    """
    visits = measured_visits(horse=record.horse, viewer=viewer, until=record.visit.day)
    series = follow(
        visits,
        length_sd_mm=float(practice.length_sd_mm),
        angle_sd_deg=float(practice.angle_sd_deg),
    )
    key = str(record.pk)
    mine = [one for one in series.values() if key in {p.key for p in one.points}]
    slips = sum(
        point.key == key and point.is_questionable
        for one in mine
        if one.measure.of == (one.measure.key,)
        for point in one.points
    )
    found = [_foot(foot, mine, key) for foot in FEET]
    return Changes(tuple(one for one in found if one.compared), slips)


def _foot(foot: Foot, series: Iterable[Series], key: str) -> FootChanges:
    steps = [
        Step(one.measure, since, moved)
        for one in series
        if one.foot == foot
        for since, moved in (
            ("since", since_last(one)),
            ("over a year, from", over_a_year(one)),
        )
        if moved is not None and moved.after.key == key
    ]
    real = tuple(step for step in steps if step.change.is_real)
    return FootChanges(FOOT_NAMES[foot], real, len(steps))

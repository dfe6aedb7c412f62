"""How the day of the next visit is to be found: limits, a horse's policy, season, prior.
The only writer of ``IntervalLimits``, ``HorseInterval`` and ``IntervalSettings``.

Each change moves the due windows that it touches, in its own transaction.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, TypedDict, Unpack

from django.db import transaction

from horses.models import Horse, HorseInterval, IntervalLimits, IntervalSettings
from horses.models.interval import LIMITS
from horses.selectors.growth import (
    SEASONS,
    House,
    hemisphere_of,
    house,
    learnt_as_dict,
    limits_said,
    measured,
)
from horses.services.horses import (
    AT_ONCE,
    practice_day,
    refresh_all_due_windows,
    refresh_due_window,
    refresh_due_windows,
)
from horses.services.register import change_horse
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change

if TYPE_CHECKING:
    from horses.growth import Priors, Season

_ORDER = (
    ("least_weeks", "most_weeks", "The most weeks are not fewer than the least."),
    ("most_weeks", "latest_weeks", "The latest week is not before the most weeks."),
    ("least_weeks", "latest_weeks", "The latest week is not before the least weeks."),
)
_RANGES = {
    "toe_gain_mm": (1, 60, "Give a gain of 1 to 60 mm."),
    "lever_gain_percent": (1, 100, "Give a gain of 1 to 100 %."),
    "angle_loss_deg": (Decimal("0.1"), 20, "Give a loss of 0.1 to 20°."),
    "least_weeks": (1, 52, "Give 1 to 52 weeks."),
    "most_weeks": (1, 52, "Give 1 to 52 weeks."),
    "latest_weeks": (1, 52, "Give 1 to 52 weeks."),
}
SEASON_RANGE = (Decimal("0.30"), Decimal("2.00"))
VET_FIELDS = ("vet_weeks", "vet_name", "vet_said_on", "vet_until", "vet_note")


class LimitValues(TypedDict, total=False):
    """What a foot may come to; None says nothing."""

    toe_gain_mm: Decimal | None
    lever_gain_percent: Decimal | None
    angle_loss_deg: Decimal | None
    least_weeks: int | None
    most_weeks: int | None
    latest_weeks: int | None


class HorsePolicyValues(LimitValues, total=False):
    """A horse's own policy."""

    way: str
    vet_weeks: int | None
    vet_name: str
    vet_said_on: date | None
    vet_until: date | None
    vet_note: str


class SettingsValues(TypedDict, total=False):
    """What holds for all horses."""

    reckons: bool
    set_weeks_win: bool
    hemisphere: str
    spring: Decimal | None
    summer: Decimal | None
    autumn: Decimal | None
    winter: Decimal | None
    learns: bool


# ---- Limits ------------------------------------------------------------------------
@transaction.atomic
def change_limits(
    *, use: str, by: User | None, today: date, **values: Unpack[LimitValues]
) -> IntervalLimits:
    """Sets the limits of a use, or of the practice (``use`` empty), and moves the
    windows of the horses that they touch. Saying the same again changes nothing.

    Raises:
        Refused: an unknown use, or weeks that contradict one another.
    """
    if use and use not in Horse.Use.values:
        raise Refused(f"Choose one of: {', '.join(Horse.Use.values)}.", field="use")
    given: dict[str, Any] = dict(values)
    _check_ranges(given)
    row, _ = IntervalLimits.objects.select_for_update().get_or_create(use=use)
    if not _keep(row, given, by=by, action="change limits"):
        return row
    _check_order(_level(row))
    touched = Horse.objects.active()
    if use:
        touched = touched.filter(use=use)
    refresh_due_windows(horses=touched.values_list("pk", flat=True), today=today)
    return row


def _level(row: IntervalLimits | HorseInterval) -> dict[str, Any]:
    return {name: getattr(row, name) for name in LIMITS}


def _check_ranges(given: dict[str, Any]) -> None:
    for name, (least, most, sentence) in _RANGES.items():
        value = given.get(name)
        if value is not None and not least <= value <= most:
            raise Refused(sentence, field=name)


def _check_order(weeks: dict[str, Any]) -> None:
    for one, other, sentence in _ORDER:
        low, high = weeks.get(one), weeks.get(other)
        if low is not None and high is not None and low > high:
            raise Refused(sentence, field=other)


def _keep(
    row: IntervalLimits | HorseInterval | IntervalSettings,
    given: dict[str, Any],
    *,
    by: User | None,
    action: str,
) -> bool:
    """Saves what differs, with its ``Change``; whether anything did."""
    changed = [name for name, value in given.items() if getattr(row, name) != value]
    if not changed:
        return False
    before = {name: _plain(getattr(row, name)) for name in changed}
    for name in changed:
        setattr(row, name, given[name])
    if not isinstance(row, IntervalSettings):
        _check_order(_level(row))
    row.save(update_fields=[*changed, "changed_at"])
    note_change(
        by=by,
        obj=row.horse if isinstance(row, HorseInterval) else row,
        action=action,
        before=before,
        after={name: _plain(given[name]) for name in changed},
    )
    return True


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Decimal | date) else value


# ---- A horse's own -----------------------------------------------------------------
@transaction.atomic
def change_horse_interval(
    *,
    horse: Horse,
    by: User | None,
    today: date,
    interval_weeks: int | None,
    **values: Unpack[HorsePolicyValues],
) -> HorseInterval:
    """Sets a horse's own policy and its set weeks, and moves its window. Saying the same
    again changes nothing.

    Args:
        interval_weeks: the set weeks; None for none.

    Raises:
        Refused: with the field to mend.
    """
    given: dict[str, Any] = {
        name: value.strip() if isinstance(value, str) else value
        for name, value in values.items()
    }
    _check_ranges(given)
    _check_vet(given)
    row = Horse.objects.select_for_update().get(pk=horse.pk)
    way = given.get("way", "")
    if way not in HorseInterval.Way.values:
        raise Refused("Choose how the next visit's day is found.", field="way")
    if way == HorseInterval.Way.SET and interval_weeks is None:
        raise Refused("Say how many weeks are set.", field="interval_weeks")
    own, _ = HorseInterval.objects.select_for_update().get_or_create(horse=row)
    own.horse = row
    _check_against_others(row, own, given)
    change_horse(horse=row, by=by, today=today, interval_weeks=interval_weeks)
    if _keep(own, given, by=by, action="change interval"):
        refresh_due_window(horse=row, today=today)
    return own


def _check_vet(given: dict[str, Any]) -> None:
    weeks = given.get("vet_weeks")
    if weeks is None:
        left = [name for name in VET_FIELDS[1:] if given.get(name)]
        if left:
            raise Refused("Say how many weeks the vet asks for.", field="vet_weeks")
        return
    if not 1 <= weeks <= 52:
        raise Refused("Give 1 to 52 weeks.", field="vet_weeks")
    if not given.get("vet_name"):
        raise Refused("Say which vet asks for them.", field="vet_name")
    said, until = given.get("vet_said_on"), given.get("vet_until")
    if said is None:
        raise Refused("Say on which day the vet asked.", field="vet_said_on")
    if until is not None and until < said:
        raise Refused("They hold until a day after they were asked.", field="vet_until")


def _check_against_others(
    horse: Horse, own: HorseInterval, given: dict[str, Any]
) -> None:
    """The horse's weeks go with those that its use and the practice set."""
    tried = HorseInterval(horse=horse, **(_level(own) | _only_limits(given)))
    found = limits_said(horse.use, tried, house().limits)
    weeks = {name: said.value for name, said in found.items()}
    for one, other, sentence in _ORDER:
        low, high = weeks.get(one), weeks.get(other)
        if low is None or high is None or low <= high:
            continue
        mine = [name for name in (one, other) if found[name].by == "horse"]
        if mine:
            others = one if mine[-1] == other else other
            raise Refused(
                f"{sentence} The {found[others].by} says {weeks[others]:g}.",
                field=mine[-1],
            )


def _only_limits(given: dict[str, Any]) -> dict[str, Any]:
    return {name: given[name] for name in LIMITS if name in given}


# ---- What holds for all ------------------------------------------------------------
@transaction.atomic
def change_interval_settings(
    *, by: User | None, today: date, **values: Unpack[SettingsValues]
) -> IntervalSettings:
    """Changes what holds for all horses, and moves all windows. Saying the same again
    changes nothing.

    Raises:
        Refused: with the field to mend.
    """
    given: dict[str, Any] = dict(values)
    _check_season(given)
    if given.get("hemisphere", "") not in IntervalSettings.Hemisphere.values:
        raise Refused("Choose the northern or the southern half.", field="hemisphere")
    IntervalSettings.objects.get_or_create(pk=1)
    row = IntervalSettings.objects.select_for_update().get(pk=1)
    if _keep(row, given, by=by, action="change intervals"):
        refresh_all_due_windows(today=today)
    return row


def _check_season(given: dict[str, Any]) -> None:
    four = [name for name in SEASONS if given.get(name) is not None]
    if four and len(four) < len(SEASONS):
        missing = next(name for name in SEASONS if name not in four)
        raise Refused("Give all four seasons, or none.", field=missing)
    least, most = SEASON_RANGE
    for name in four:
        if not least <= given[name] <= most:
            raise Refused(f"Give a factor of {least} to {most}.", field=name)


def learn_from_records(*, today: date) -> IntervalSettings:
    """Estimates anew, from all that the practice has measured, where a horse starts.

    Reads and reckons before it writes: with thousands of horses that takes seconds, in
    which others want to write too.
    """
    row, _ = IntervalSettings.objects.get_or_create(pk=1)
    if not row.learns:
        return row
    learnt, season, horses = _learnt(house(), today)
    with transaction.atomic():
        row = IntervalSettings.objects.select_for_update().get(pk=1)
        if row.learns:
            row.prior = learnt_as_dict(learnt, season)
            row.prior_on = today
            row.prior_horses = horses
            row.save(update_fields=["prior", "prior_on", "prior_horses", "changed_at"])
    return row


def _learnt(held: House, today: date) -> tuple[Priors, Season | None, int]:
    """What the practice's own records teach, and how many horses had any."""
    from horses.growth import default_season, learn_priors, learn_season

    records = []
    keys = list(Horse.objects.values_list("pk", flat=True))
    for start in range(0, len(keys), AT_ONCE):
        stock = Horse.objects.filter(pk__in=keys[start : start + AT_ONCE])
        told = measured(stock.select_related("usual_work"), today=today)
        records += [one.record for one in told.values() if one.record.readings]
    usual = default_season(hemisphere_of(held.settings, held.practice))
    sd = held.length_sd_mm
    season = learn_season(records, as_of=today, usual=usual, length_sd_mm=sd)
    learnt = learn_priors(
        records, as_of=today, season=season or held.season, length_sd_mm=sd
    )
    return learnt, season, len(records)


def nightly_job(*, alive: Callable[[], bool], **_: object) -> None:
    """The outbox's nightly job: learn from the records, then reckon every window, some
    hundred horses at a time. Stops where another worker has taken over."""
    if not Practice.objects.filter(pk=1).exists():
        return
    today = practice_day()
    learn_from_records(today=today)
    keys = list(Horse.objects.order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(keys), AT_ONCE):
        if not alive():
            return
        refresh_due_windows(horses=keys[start : start + AT_ONCE], today=today)

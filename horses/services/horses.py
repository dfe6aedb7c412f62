"""When horses are due: the only writer of ``DueWindow``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils import timezone

from horses.models import DueWindow, Horse
from horses.selectors.growth import (
    House,
    house,
    measured,
    own_policy,
    policy_of,
    way_of,
)
from practice.days import full
from practice.models import Practice
from practice.units import System, format_length

if TYPE_CHECKING:
    # Growth stands on numpy: only who reckons loads it, not every process at its start.
    from horses.growth import Estimate, Policy, Window

DAYS_AFTER = 14
"""A horse without a visit is due at once, and late after so many days. Ours."""
AT_ONCE = 500
"""So many horses are read and written at once."""

_BASIS = {
    "vet": DueWindow.Basis.VET,
    "set": DueWindow.Basis.SET_INTERVAL,
    "usual": DueWindow.Basis.USUAL_INTERVAL,
}
_WRITTEN = (
    "earliest",
    "target",
    "latest",
    "ready_by",
    "basis",
    "last_visit_day",
    "weeks",
    "why",
    "guide_foot",
    "questionable",
    "changed_at",
)
NO_VISIT_YET = "No visit is recorded yet, so the horse is due at once."


def practice_day() -> date:
    """Today by the practice's clock."""
    return timezone.localdate(timezone=Practice.objects.the_one().zone)


def refresh_due_window(*, horse: Horse, today: date) -> DueWindow | None:
    """Reckons and stores the window of one horse; none for a horse that isn't active."""
    refresh_due_windows(horses=[horse.pk], today=today)
    return DueWindow.objects.filter(horse=horse).first()


@transaction.atomic
def refresh_due_windows(*, horses: Iterable[int], today: date) -> int:
    """Reckons and stores the windows of these horses (primary keys), in a dozen queries
    for each five hundred.

    Returns:
        how many windows now stand.
    """
    keys = sorted(horses)
    return sum(
        _refresh(keys[start : start + AT_ONCE], today)
        for start in range(0, len(keys), AT_ONCE)
    )


def _hold(keys: Sequence[int]) -> None:
    """Locks these horses' windows until the transaction ends, in one order for all.

    Before anything is read that they are reckoned from: who closes a visit or changes a
    limit meanwhile comes wholly before or wholly after, and is never overwritten by what
    was read a moment earlier.
    """
    held = DueWindow.objects.select_for_update().filter(horse__in=keys)
    list(held.order_by("horse_id").values_list("pk"))


def _refresh(keys: Sequence[int], today: date) -> int:
    _hold(keys)
    held = house()
    stock = list(
        Horse.objects.active()
        .filter(pk__in=keys)
        .select_related("usual_work", "interval_policy")
        .order_by("pk")
    )
    windows = _windows(stock, held, today)
    # Asked of the horses as they are now: one that came back meanwhile keeps its own.
    gone = Horse.objects.filter(pk__in=keys).exclude(pk__in=Horse.objects.active())
    DueWindow.objects.filter(horse__in=gone).delete()
    now = timezone.now()
    for window in windows:
        window.created_at = window.changed_at = now
    DueWindow.objects.bulk_create(
        windows,
        update_conflicts=True,
        unique_fields=["horse"],
        update_fields=_WRITTEN,
        batch_size=AT_ONCE,
    )
    return len(windows)


def _windows(stock: Sequence[Horse], held: House, today: date) -> list[DueWindow]:
    """The windows of these horses, unsaved."""
    from horses.growth import estimate_all, windows_all

    told = measured(stock, today=today)
    estimates = estimate_all(
        [told[horse.pk].record for horse in stock],
        as_of=today,
        priors=held.priors,
        season=held.season,
        length_sd_mm=held.length_sd_mm,
    )
    policies = [policy_of(horse, held, today=today) for horse in stock]
    found = windows_all(estimates, policies, season=held.season)
    return [
        _row(horse, estimate, policy, window, held, today)
        for horse, estimate, policy, window in zip(
            stock, estimates, policies, found, strict=True
        )
    ]


def _row(
    horse: Horse,
    estimate: Estimate,
    policy: Policy,
    window: Window,
    held: House,
    today: date,
) -> DueWindow:
    last = estimate.facts.last_visit
    questionable = len(estimate.questionable)
    if last is None:
        return DueWindow(
            horse=horse,
            earliest=today,
            target=today,
            latest=today + timedelta(days=DAYS_AFTER),
            basis=DueWindow.Basis.NO_VISIT,
            why=NO_VISIT_YET,
            questionable=questionable,
        )
    way = way_of(horse, held, today=today)
    basis = _BASIS.get(way) or DueWindow.Basis(window.basis)
    return DueWindow(
        horse=horse,
        earliest=window.earliest,
        target=window.target,
        latest=window.latest,
        ready_by=window.ready_by,
        basis=basis,
        last_visit_day=last,
        weeks=window.weeks,
        why=said_why(horse, window, policy, basis, held),
        guide_foot=window.guide or "",
        questionable=questionable,
    )


def said_why(
    horse: Horse, window: Window, policy: Policy, basis: str, held: House
) -> str:
    """One sentence that says how the day came about, in the practice's unit."""
    from horses.growth import why
    from horses.growth.words import say_mm

    weeks = f"{window.weeks} week{'' if window.weeks == 1 else 's'}"
    own = own_policy(horse)
    if basis == DueWindow.Basis.VET and own is not None:
        said, until = own.vet_said_on, own.vet_until
        on = f" on {full(said, year=True)}" if said else ""
        to = f", until {full(until, year=True)}" if until else ""
        return f"{own.vet_name} asked for {weeks}{on}{to}: a vet's weeks win over all."
    if basis == DueWindow.Basis.USUAL_INTERVAL:
        return f"{weeks}, the practice's usual interval."
    unit = held.practice.length_unit
    system: System = "imperial" if unit == "in" else "metric"

    def length(mm: float) -> str:
        return format_length(round(mm, 1), system, unit=unit)  # type: ignore[arg-type]  # of three choices

    return why(window, policy, length=length if unit != "mm" else say_mm)[:400]


def refresh_all_due_windows(*, today: date) -> int:
    """Reckons every horse's window. Nightly, and after a change of what holds for all."""
    return refresh_due_windows(
        horses=Horse.objects.values_list("pk", flat=True), today=today
    )


def practice_changed(*, fields: frozenset[str]) -> None:
    """Moves all windows where a changed field of the practice bears on them: the usual
    interval, the tape's error, home (it says which half of the Earth), the unit in
    which the reason is told.
    """
    if fields & {
        "default_interval_weeks",
        "length_sd_mm",
        "home_latitude",
        "length_unit",
    }:
        refresh_all_due_windows(today=practice_day())

"""When horses are due: the only writer of ``DueWindow``."""

from collections.abc import Iterable
from datetime import date, timedelta

from django.db import transaction
from django.db.models import OuterRef, Subquery
from django.utils import timezone

from horses.models import DueWindow, Horse, Visit, VisitRecord
from practice.models import Practice

#: Days before the target from which a visit is worth while, and after it at the most.
#: Common practice, no source; reckoned from each horse's own growth in a later issue.
DAYS_BEFORE = 7
DAYS_AFTER = 14


def due_window(
    horse: Horse, *, last_visit_day: date | None, usual_weeks: int, today: date
) -> DueWindow:
    """The window of one horse, unsaved: target is the last visit and the set weeks.

    Args:
        last_visit_day: day of the last closed visit in which the horse was treated.
        usual_weeks: the practice's interval, for a horse without its own.
        today: without a visit the horse is due on this day.
    """
    basis = DueWindow.Basis
    if last_visit_day is None:
        return DueWindow(
            horse=horse,
            earliest=today,
            target=today,
            latest=today + timedelta(days=DAYS_AFTER),
            basis=basis.NO_VISIT,
        )
    weeks = horse.interval_weeks or usual_weeks
    target = last_visit_day + timedelta(weeks=weeks)
    return DueWindow(
        horse=horse,
        earliest=target - timedelta(days=DAYS_BEFORE),
        target=target,
        latest=target + timedelta(days=DAYS_AFTER),
        basis=basis.SET_INTERVAL if horse.interval_weeks else basis.USUAL_INTERVAL,
        last_visit_day=last_visit_day,
        weeks=weeks,
    )


def refresh_due_window(*, horse: Horse, today: date) -> DueWindow | None:
    """Reckons and stores the window of one horse; none for a horse that isn't active."""
    refresh_due_windows(horses=[horse.pk], today=today)
    return DueWindow.objects.filter(horse=horse).first()


@transaction.atomic
def refresh_due_windows(*, horses: Iterable[int], today: date) -> int:
    """Reckons and stores the windows of these horses (primary keys), in four queries.

    Returns:
        how many windows now stand.
    """
    keys = list(horses)
    last = (
        VisitRecord.objects.filter(
            horse=OuterRef("pk"),
            visit__state=Visit.State.CLOSED,
            visit__kind__in=[Visit.Kind.ATTENDED, Visit.Kind.BROUGHT_IN],
        )
        .order_by("-visit__day")
        .values("visit__day")[:1]
    )
    usual = Practice.objects.the_one().default_interval_weeks
    rows = Horse.objects.active().filter(pk__in=keys).annotate(last_day=Subquery(last))
    windows = [
        due_window(
            horse,
            last_visit_day=horse.last_day,  # type: ignore[attr-defined]  # annotated above
            usual_weeks=usual,
            today=today,
        )
        for horse in rows
    ]
    DueWindow.objects.filter(horse__in=keys).exclude(
        horse__in=[window.horse_id for window in windows]
    ).delete()
    now = timezone.now()
    for window in windows:
        window.created_at = window.changed_at = now
    DueWindow.objects.bulk_create(
        windows,
        update_conflicts=True,
        unique_fields=["horse"],
        update_fields=[
            "earliest",
            "target",
            "latest",
            "basis",
            "last_visit_day",
            "weeks",
            "changed_at",
        ],
        batch_size=500,
    )
    return len(windows)


def refresh_all_due_windows(*, today: date) -> int:
    """Reckons every horse's window. Nightly, and after a change of the usual interval."""
    keys = list(Horse.objects.values_list("pk", flat=True))
    step = 500
    return sum(
        refresh_due_windows(horses=keys[start : start + step], today=today)
        for start in range(0, len(keys), step)
    )


def refresh_job(**_: object) -> None:
    """The outbox's nightly job."""
    if Practice.objects.filter(pk=1).exists():
        zone = Practice.objects.the_one().zone
        refresh_all_due_windows(today=timezone.localdate(timezone=zone))

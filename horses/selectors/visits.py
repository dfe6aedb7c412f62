"""Visits read for their pages."""

from datetime import date

from django.db.models import Count, Q, QuerySet

from horses.models import Horse, Visit, VisitRecord
from practice.models import Barn, User


def visits_of(viewer: User) -> QuerySet[Visit]:
    """The visits that this viewer sees, open ones first, then newest, with counts."""
    return (
        Visit.objects.visible_to(viewer)
        .select_related("barn", "farrier")
        .annotate(
            horse_count=Count("records", distinct=True),
            recorded_count=Count(
                "records", filter=Q(records__is_recorded=True), distinct=True
            ),
        )
        .order_by("-state", "-day", "-pk")
    )


def records_of(visit: Visit) -> list[VisitRecord]:
    """The visit's records with horse and work, by the horse's name. One query."""
    return list(
        VisitRecord.objects.filter(visit=visit)
        .select_related("horse", "work", "horse__usual_work")
        .order_by("horse__name", "pk")
    )


def horses_to_add(visit: Visit) -> QuerySet[Horse]:
    """Active horses not on the visit: those of its barn first. One query."""
    return (
        Horse.objects.active()
        .exclude(records__visit=visit)
        .select_related("barn")
        .order_by("name", "pk")
    )


def horses_at(barn: Barn, *, today: date) -> list[Horse]:
    """The barn's active horses, those due by ``today`` first. One query."""
    rows = list(
        Horse.objects.active()
        .filter(barn=barn)
        .select_related("due_window", "usual_work")
        .order_by("name", "pk")
    )
    return sorted(rows, key=lambda horse: not is_due(horse, today))


def is_due(horse: Horse, today: date) -> bool:
    """Whether the horse's target day has come; also without a window."""
    window = getattr(horse, "due_window", None)
    return window is None or window.target <= today

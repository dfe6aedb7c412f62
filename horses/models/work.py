"""Kinds of work, with the minutes that they take."""

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import Q

from practice.models import Timed, User


class WorkQuerySet(models.QuerySet["Work"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "WorkQuerySet":
        """Everyone of the practice sees them; nobody else."""
        if isinstance(viewer, User) and viewer.is_active and viewer.is_of_practice:
            return self
        return self.none()

    def active(self) -> "WorkQuerySet":
        return self.filter(is_active=True)

    def on_horses(self) -> "WorkQuerySet":
        """Work that a horse can usually get: not a no-show or a late call-off."""
        return self.exclude(kind__in=[Work.Kind.NO_SHOW, Work.Kind.LATE_CALL_OFF])


class Work(Timed):
    """What a horse may get at a visit: 'full set', 'trim'. Priced by the charge list,
    timed here, read by the planner.
    """

    class Kind(models.TextChoices):
        TRIM = "trim", "trim"
        RESET = "reset", "reset"
        NEW_SHOES = "new_shoes", "new shoes"
        PULL = "pull", "pull"
        CHECK = "check", "check"
        OTHER = "other", "other"
        NO_SHOW = "no_show", "no-show"
        LATE_CALL_OFF = "late_call_off", "late call-off"

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=13, choices=Kind.choices)
    minutes = models.PositiveSmallIntegerField(help_text="per horse, at the barn")
    position = models.PositiveSmallIntegerField(default=0)
    is_active = models.BooleanField(default=True)

    objects = WorkQuerySet.as_manager()

    class Meta:
        ordering = ["position", "name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(minutes__lte=480), name="work_within_a_day"
            )
        ]

    def __str__(self) -> str:
        return self.name

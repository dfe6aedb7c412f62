"""One farrier's day on the road. Minutes are counted from the local midnight."""

from datetime import time

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import F, Q

from practice.keys import uuid7
from practice.models import Timed, User
from scheduling.models.bookings import Booking


class RoundQuerySet(models.QuerySet["Round"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "RoundQuerySet":
        """Rounds are the practice's own business."""
        if isinstance(viewer, User) and viewer.is_active and viewer.is_of_practice:
            return self
        return self.none()


class Round(Timed):
    """Home, barns in order with times, home. As planned when it last changed."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    farrier = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    day = models.DateField()
    starts = models.TimeField(default=time(8))
    ends = models.TimeField(default=time(17))
    break_minutes = models.PositiveSmallIntegerField(default=0)
    by_hand = models.BooleanField(
        default=False, help_text="the order was set by hand: kept when replanned"
    )
    leave = models.PositiveSmallIntegerField(default=0)
    home_at = models.PositiveSmallIntegerField(default=0)
    home_minutes = models.PositiveSmallIntegerField(default=0)
    home_metres = models.PositiveIntegerField(null=True, blank=True)
    break_start = models.PositiveSmallIntegerField(null=True, blank=True)
    drive_minutes = models.PositiveSmallIntegerField(default=0)
    work_minutes = models.PositiveSmallIntegerField(default=0)
    wait_minutes = models.PositiveSmallIntegerField(default=0)
    broken = models.JSONField(
        default=list, blank=True, help_text="rules broken: kind, key, sentence"
    )

    objects = RoundQuerySet.as_manager()

    class Meta:
        ordering = ["day", "farrier"]
        constraints = [
            models.UniqueConstraint(fields=["farrier", "day"], name="round_once_a_day"),
        ]

    def __str__(self) -> str:
        return f"{self.farrier} {self.day}"

    @property
    def breaks_a_rule(self) -> bool:
        """Whether it breaks one; a place that nobody knows is no rule."""
        return any(one["kind"] not in ("position", "home") for one in self.broken)


class Stop(Timed):
    """A barn within a round."""

    round = models.ForeignKey(Round, on_delete=models.CASCADE, related_name="stops")
    booking = models.OneToOneField(
        Booking, on_delete=models.CASCADE, related_name="stop"
    )
    position = models.PositiveSmallIntegerField()
    drive_minutes = models.PositiveSmallIntegerField()
    drive_metres = models.PositiveIntegerField(null=True, blank=True)
    arrive = models.PositiveSmallIntegerField()
    start = models.PositiveSmallIntegerField()
    end = models.PositiveSmallIntegerField()
    wait_minutes = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(
                fields=["round", "position"], name="stop_place_once"
            ),
            models.CheckConstraint(
                condition=Q(arrive__lte=F("start"), start__lte=F("end")),
                name="stop_times_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position}: {self.booking}"

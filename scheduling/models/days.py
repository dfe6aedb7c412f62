"""When a farrier drives out."""

from django.db import models
from django.db.models import F, Q

from practice.models import Area, Timed, User
from practice.models.places import Weekday


class UsualDay(Timed):
    """A weekday on which a farrier usually drives out. No row: a day at home."""

    farrier = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    weekday = models.PositiveSmallIntegerField(choices=Weekday.choices)
    starts = models.TimeField()
    ends = models.TimeField()
    break_minutes = models.PositiveSmallIntegerField(default=30)
    area = models.ForeignKey(
        Area, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    rides_along = models.ForeignKey(
        User,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="an apprentice, or a farrier without a round of own on that day",
    )

    class Meta:
        ordering = ["farrier", "weekday"]
        constraints = [
            models.UniqueConstraint(
                fields=["farrier", "weekday"], name="usual_day_once"
            ),
            models.CheckConstraint(
                condition=Q(ends__gt=F("starts")), name="usual_day_ends_after_start"
            ),
            models.CheckConstraint(
                condition=Q(weekday__range=(1, 7)), name="usual_day_iso_weekday"
            ),
            models.CheckConstraint(
                condition=Q(break_minutes__lte=180), name="usual_day_break_to_3_h"
            ),
            models.UniqueConstraint(
                fields=["rides_along", "weekday"], name="rides_along_with_one"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.farrier} {self.get_weekday_display()}"


class WorkingDay(Timed):
    """One day that is otherwise than usual: other hours, or off."""

    farrier = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    day = models.DateField()
    is_off = models.BooleanField(default=False)
    starts = models.TimeField(null=True, blank=True)
    ends = models.TimeField(null=True, blank=True)
    break_minutes = models.PositiveSmallIntegerField(default=30)
    area = models.ForeignKey(
        Area,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="wished on this one day",
    )
    rides_along = models.ForeignKey(
        User,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="on this one day; nobody named: as usual, unless alone",
    )
    rides_alone = models.BooleanField(
        default=False, help_text="nobody rides along, whatever is usual"
    )
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["day"]
        constraints = [
            models.UniqueConstraint(fields=["farrier", "day"], name="working_day_once"),
            models.CheckConstraint(
                condition=Q(is_off=True)
                | Q(starts__isnull=False, ends__isnull=False, ends__gt=F("starts")),
                name="working_day_off_or_hours",
            ),
            models.CheckConstraint(
                condition=Q(rides_along__isnull=True)
                | Q(rides_alone=False, is_off=False),
                name="working_day_alone_or_not",
            ),
            models.UniqueConstraint(
                fields=["rides_along", "day"], name="rides_along_with_one_that_day"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.farrier} {self.day}"

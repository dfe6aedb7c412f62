"""What planning has to know of a horse, a barn and a night away."""

from django.db import models
from django.db.models import F, Q

from horses.models import Horse, Work
from practice.models import Barn, Timed, User
from practice.models.places import Weekday


class HorseHandling(Timed):
    """Who treats a horse, by how many, and how long it takes."""

    horse = models.OneToOneField(Horse, on_delete=models.CASCADE, related_name="+")
    farrier = models.ForeignKey(
        User,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="preferred; another may come all the same",
    )
    may_treat = models.ManyToManyField(
        User, blank=True, related_name="+", help_text="nobody named: anyone"
    )
    needs_two = models.BooleanField(default=False)
    minutes = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text="at this horse, whatever the work, where none are said for it",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(minutes__isnull=True) | Q(minutes__range=(5, 480)),
                name="handling_minutes_within_a_day",
            )
        ]

    def __str__(self) -> str:
        return f"handling of {self.horse}"


class HorseMinutes(Timed):
    """What one work takes at one horse: goes before all that is said more generally."""

    horse = models.ForeignKey(Horse, on_delete=models.CASCADE, related_name="+")
    work = models.ForeignKey(Work, on_delete=models.CASCADE, related_name="+")
    minutes = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["work__position", "work__name"]
        constraints = [
            models.UniqueConstraint(
                fields=["horse", "work"], name="horse_minutes_once_a_work"
            ),
            models.CheckConstraint(
                condition=Q(minutes__range=(5, 480)),
                name="horse_minutes_within_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.work} at {self.horse}: {self.minutes} min"


class BarnFinish(Timed):
    """On this weekday the work at the barn must be over by then."""

    barn = models.ForeignKey(Barn, on_delete=models.CASCADE, related_name="+")
    weekday = models.PositiveSmallIntegerField(choices=Weekday.choices)
    finish_by = models.TimeField()

    class Meta:
        ordering = ["weekday"]
        constraints = [
            models.UniqueConstraint(
                fields=["barn", "weekday"], name="barn_finish_once_a_weekday"
            ),
            models.CheckConstraint(
                condition=Q(weekday__range=(1, 7)), name="barn_finish_iso_weekday"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.barn}, {self.get_weekday_display()}: by {self.finish_by:%H:%M}"


class BarnClosure(Timed):
    """Days on which a barn can't be attended: a show, foaling, ice on the lane."""

    barn = models.ForeignKey(Barn, on_delete=models.CASCADE, related_name="+")
    first = models.DateField()
    last = models.DateField()
    why = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["first"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last__gte=F("first")), name="barn_closure_in_order"
            ),
            models.UniqueConstraint(
                fields=["barn", "first", "last"], name="barn_closure_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.barn} closed {self.first} to {self.last}"


class Lodging(Timed):
    """A night away: that day's round ends there, and the next day's starts there."""

    farrier = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    night = models.DateField(help_text="the day whose evening it is")
    name = models.CharField(max_length=120)
    latitude = models.DecimalField(max_digits=9, decimal_places=6)
    longitude = models.DecimalField(max_digits=9, decimal_places=6)

    class Meta:
        ordering = ["night"]
        constraints = [
            models.UniqueConstraint(
                fields=["farrier", "night"], name="one_bed_a_night"
            ),
            models.CheckConstraint(
                condition=Q(latitude__range=(-90, 90), longitude__range=(-180, 180)),
                name="lodging_on_earth",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.farrier} at {self.name}, {self.night}"

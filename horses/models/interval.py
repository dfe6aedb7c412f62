"""How the next visit's day is found: limits, a horse's own policy, season and prior."""

from datetime import date
from typing import TypeAlias

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from horses.models.horse import Horse
from horses.models.visit import MaybeDecimal
from practice.models import Timed

MaybeWeeks: TypeAlias = "models.PositiveSmallIntegerField[int | str | None, int | None]"


def _figure(least: float, most: int, help_text: str) -> MaybeDecimal:
    return models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        help_text=help_text,
        validators=[MinValueValidator(least), MaxValueValidator(most)],
    )


def _weeks(help_text: str) -> MaybeWeeks:
    return models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text=help_text,
        validators=[MinValueValidator(1), MaxValueValidator(52)],
    )


LIMITS = (
    "toe_gain_mm",
    "lever_gain_percent",
    "angle_loss_deg",
    "least_weeks",
    "most_weeks",
    "latest_weeks",
)
"""The limits that a practice, a use or a horse may set; the most specific wins."""


class LimitFields(Timed):
    """What a foot may come to before it is done again; empty says nothing."""

    toe_gain_mm = _figure(1, 60, "growth of the toe along the wall, in mm")
    lever_gain_percent = _figure(1, 100, "gain of the lever at breakover, in percent")
    angle_loss_deg = _figure(0.1, 20, "loss of dorsal angle, in degrees")
    least_weeks = _weeks("never aimed for sooner than so many weeks")
    most_weeks = _weeks("never aimed for later than so many weeks")
    latest_weeks = _weeks("the hard latest, whatever is reckoned")

    class Meta:
        abstract = True


def _in_order(name: str) -> list[models.BaseConstraint]:
    """Least, most and latest weeks, where given, are 1 to 52 and in order."""

    def up(one: str, other: str) -> Q:
        return (
            Q(**{f"{one}__isnull": True})
            | Q(**{f"{other}__isnull": True})
            | Q(**{f"{one}__lte": F(other)})
        )

    return [
        models.CheckConstraint(
            condition=up("least_weeks", "most_weeks")
            & up("most_weeks", "latest_weeks")
            & up("least_weeks", "latest_weeks"),
            name=f"{name}_weeks_in_order",
        )
    ]


class IntervalLimits(LimitFields):
    """Limits of the practice (``use`` empty), or of one use.

    ``horses.services.intervals`` is the only writer.
    """

    use = models.CharField(
        max_length=12, choices=Horse.Use.choices, blank=True, unique=True
    )

    class Meta:
        ordering = ["use"]
        constraints = _in_order("interval_limits")

    def __str__(self) -> str:
        return self.get_use_display() if self.use else "the practice"


class HorseInterval(LimitFields):
    """One horse's own policy: limits, whether its set weeks hold, a vet's weeks."""

    class Way(models.TextChoices):
        AS_PRACTICE = "", "as the practice does"
        SET = "set", "the set weeks"
        GROWTH = "growth", "reckoned from its growth"

    horse = models.OneToOneField(
        Horse, on_delete=models.CASCADE, related_name="interval_policy"
    )
    way = models.CharField(
        max_length=6, choices=Way.choices, blank=True, default=Way.AS_PRACTICE
    )
    vet_weeks = models.PositiveSmallIntegerField(null=True, blank=True)
    vet_name = models.CharField(max_length=120, blank=True)
    vet_said_on = models.DateField(null=True, blank=True)
    vet_until = models.DateField(null=True, blank=True, help_text="last day it holds")
    vet_note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["horse"]
        constraints = [
            *_in_order("horse_interval"),
            models.CheckConstraint(
                condition=Q(vet_weeks__isnull=True) | Q(vet_weeks__range=(1, 52)),
                name="horse_interval_vet_1_52",
            ),
        ]

    def __str__(self) -> str:
        return f"interval of {self.horse_id}"

    def vet_weeks_on(self, day: date) -> int | None:
        """The weeks that a vet asks for, on a day on which that holds."""
        if self.vet_until is not None and self.vet_until < day:
            return None
        return self.vet_weeks


class IntervalSettingsManager(models.Manager["IntervalSettings"]):
    def the_one(self) -> "IntervalSettings":
        """The row; as it stands before anybody has set anything, if there is none."""
        return self.filter(pk=1).first() or IntervalSettings()


class IntervalSettings(Timed):
    """What holds for all horses: one row."""

    class Hemisphere(models.TextChoices):
        BY_HOME = "", "where home lies"
        NORTH = "north", "northern"
        SOUTH = "south", "southern"

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    reckons = models.BooleanField(
        default=True, help_text="a horse without set weeks: reckoned from its growth"
    )
    set_weeks_win = models.BooleanField(
        default=True, help_text="a horse with set weeks keeps them"
    )
    hemisphere = models.CharField(
        max_length=5, choices=Hemisphere.choices, blank=True, default=Hemisphere.BY_HOME
    )
    spring = models.DecimalField(max_digits=3, decimal_places=2, null=True, blank=True)
    summer = models.DecimalField(max_digits=3, decimal_places=2, null=True, blank=True)
    autumn = models.DecimalField(max_digits=3, decimal_places=2, null=True, blank=True)
    winter = models.DecimalField(max_digits=3, decimal_places=2, null=True, blank=True)
    learns = models.BooleanField(
        default=True, help_text="the practice's own records move where horses start"
    )
    prior = models.JSONField(
        null=True, blank=True, help_text="growth's starting point, from own records"
    )
    prior_on = models.DateField(null=True, blank=True)
    prior_horses = models.PositiveIntegerField(default=0)

    objects = IntervalSettingsManager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="one_interval_settings")
        ]

    def __str__(self) -> str:
        return "interval settings"

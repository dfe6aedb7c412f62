"""Drives: how roads are here, figures that were asked for once, drives as they were."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from practice.keys import uuid7
from practice.models import Timed, User


def _factor() -> "models.FloatField[float | int | str, float]":
    return models.FloatField(
        default=1.0, validators=[MinValueValidator(0.4), MaxValueValidator(3.0)]
    )


class TravelSettings(Timed):
    """How the estimate reckons; one row, made when it is first changed."""

    circuity = models.FloatField(
        default=1.3, help_text="road length over the crow's flight"
    )
    factor_lanes = _factor()
    factor_roads = _factor()
    factor_main = _factor()
    stop_minutes = models.FloatField(default=1.0, help_text="gate and yard, each drive")
    drives = models.PositiveIntegerField(
        default=0, help_text="drives of the practice that it was learnt from"
    )
    roads = models.PositiveIntegerField(
        default=0, help_text="roads of known length that the circuity was learnt from"
    )
    set_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="one_travel_settings"),
            models.CheckConstraint(
                condition=Q(circuity__gte=1, circuity__lte=4),
                name="travel_circuity_in_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"×{self.circuity}"


class KeptDrives(Timed):
    """Drives from one point to others as one source gave them, packed.

    ``cells``: see ``scheduling.travel.packing``. Kept under the source, so that another
    engine or road map never answers with the old one's figures.
    """

    source = models.CharField(max_length=80)
    lat_e5 = models.IntegerField()
    lon_e5 = models.IntegerField()
    cells = models.BinaryField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["source", "lat_e5", "lon_e5"], name="kept_drives_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.source} from {self.lat_e5}, {self.lon_e5}"


class RoadMap(Timed):
    """An uploaded extract of OpenStreetMap and what was read from it."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        READING = "reading", "being read"
        READY = "ready", "in use"
        FAILED = "failed", "could not be read"
        REPLACED = "replaced", "replaced"

    UNFINISHED = (State.WAITING, State.READING)

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    name = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    size_bytes = models.PositiveBigIntegerField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    percent = models.PositiveSmallIntegerField(default=0)
    answer = models.CharField(max_length=300, blank=True)
    junctions = models.PositiveIntegerField(default=0)
    stretches = models.PositiveIntegerField(default=0)
    uploaded_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["state"],
                condition=Q(state="ready"),
                name="one_road_map_in_use",
            )
        ]

    def __str__(self) -> str:
        return self.name


class DrivenRoad(Timed):
    """A drive as it was, from gate to gate; its key makes it once."""

    key = models.CharField(max_length=80, unique=True)
    farrier = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    day = models.DateField()
    start_name = models.CharField(max_length=120)
    start_latitude = models.DecimalField(max_digits=9, decimal_places=6)
    start_longitude = models.DecimalField(max_digits=9, decimal_places=6)
    end_name = models.CharField(max_length=120)
    end_latitude = models.DecimalField(max_digits=9, decimal_places=6)
    end_longitude = models.DecimalField(max_digits=9, decimal_places=6)
    minutes = models.PositiveSmallIntegerField()
    road_metres = models.PositiveIntegerField(
        null=True, blank=True, help_text="by the odometer"
    )
    is_left_out = models.BooleanField(
        default=False, help_text="a break or a detour lay in it: teaches nothing"
    )

    class Meta:
        ordering = ["-day", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(minutes__gte=1, minutes__lte=600),
                name="driven_within_ten_hours",
            ),
            models.CheckConstraint(
                condition=Q(road_metres__isnull=True)
                | Q(road_metres__range=(1, 1_000_000)),
                name="driven_within_1000_km",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.start_name} to {self.end_name}, {self.minutes} min"

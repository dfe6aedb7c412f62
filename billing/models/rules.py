"""The rules that a practice switches on: how it charges for road, hours and absence."""

from typing import Any

from django.db import models
from django.db.models import F, Q

from practice.models import Area, Timed, User


def _amount(help_text: str = "", **more: Any) -> "models.DecimalField[Any, Any]":
    return models.DecimalField(
        max_digits=12,
        decimal_places=3,
        null=True,
        blank=True,
        help_text=help_text,
        **more,
    )


def _percent(help_text: str = "") -> "models.DecimalField[Any, Any]":
    return models.DecimalField(
        max_digits=6, decimal_places=3, null=True, blank=True, help_text=help_text
    )


def _one_of(name: str) -> models.CheckConstraint:
    """Either an amount or a percentage, neither below zero."""
    return models.CheckConstraint(
        condition=Q(amount__isnull=True, percent__gte=0)
        | Q(percent__isnull=True, amount__gte=0),
        name=name,
    )


class SplitMode(models.TextChoices):
    """How an amount that all payers of a visit share is split."""

    BY_HORSE = "by_horse", "by horse"
    EQUALLY = "equally", "equally between the payers"
    BY_WORK = "by_work", "by the value of the work"


class BillingSettings(Timed):
    """How this practice charges: one row. A rule whose switch is off does nothing."""

    class Travel(models.TextChoices):
        NONE = "none", "not charged"
        DISTANCE = "distance", "by distance"
        ZONE = "zone", "by zone"

    class Scheme(models.TextChoices):
        SMALL = "small", "small-business scheme"
        NONE = "none", "not registered at all"

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    split_mode = models.CharField(
        max_length=8, choices=SplitMode.choices, default=SplitMode.BY_HORSE
    )
    travel = models.CharField(max_length=8, choices=Travel.choices, default=Travel.NONE)
    travel_price = _amount("per kilometre or mile, as the practice measures roads")
    travel_free_metres = models.PositiveIntegerField(default=0)
    travel_both_ways = models.BooleanField(default=False)
    travel_of_round = models.BooleanField(
        default=False, help_text="the round's whole road, shared alike by its barns"
    )
    minimum_charge = _amount("of a visit; empty: none")
    off_hours_on = models.BooleanField(default=False)
    no_show_on = models.BooleanField(default=False)
    late_call_off_on = models.BooleanField(default=False)
    put_back_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="a lost shoe is put back free; empty: never"
    )
    put_back_call_out_free = models.BooleanField(default=True)
    unregistered_scheme = models.CharField(
        max_length=5, choices=Scheme.choices, default=Scheme.SMALL
    )
    tax_place = models.CharField(
        max_length=8, blank=True, help_text="state or province, where rates differ"
    )
    tax_confirmed_at = models.DateTimeField(null=True, blank=True)
    tax_confirmed_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    tax_confirmed_for = models.CharField(
        max_length=40, blank=True, help_text="the standing that was confirmed"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="one_billing_settings"),
            models.CheckConstraint(
                condition=Q(travel_price__isnull=True) | Q(travel_price__gte=0),
                name="travel_price_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(minimum_charge__isnull=True) | Q(minimum_charge__gte=0),
                name="minimum_charge_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return "how this practice charges"


class TravelBand(Timed):
    """The price of the road by zone: an area of the practice, or so far from home."""

    area = models.OneToOneField(
        Area, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    up_to_metres = models.PositiveIntegerField(null=True, blank=True, unique=True)
    price = models.DecimalField(max_digits=12, decimal_places=3)

    class Meta:
        ordering = [F("up_to_metres").asc(nulls_last=True), "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(area__isnull=True, up_to_metres__gt=0)
                | Q(area__isnull=False, up_to_metres__isnull=True),
                name="travel_band_area_or_distance",
            ),
            models.CheckConstraint(
                condition=Q(price__gte=0), name="travel_band_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.area or self.up_to_metres}: {self.price}"


class OffHours(Timed):
    """When a visit costs more: a weekday, a day, a time of day; by how much."""

    name = models.CharField(max_length=60, help_text="shown on the invoice")
    weekday = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="ISO 8601; empty: any"
    )
    day = models.DateField(null=True, blank=True, help_text="a public holiday, say")
    from_time = models.TimeField(null=True, blank=True)
    to_time = models.TimeField(
        null=True, blank=True, help_text="may lie on the next day"
    )
    percent = _percent("of the work")
    amount = _amount("for the visit")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="off_hours_named"),
            models.CheckConstraint(
                condition=Q(weekday__isnull=True) | Q(weekday__range=(1, 7)),
                name="off_hours_iso_weekday",
            ),
            models.CheckConstraint(
                condition=Q(from_time__isnull=True, to_time__isnull=True)
                | Q(from_time__isnull=False, to_time__isnull=False),
                name="off_hours_from_and_to",
            ),
            _one_of("off_hours_percent_or_amount"),
        ]

    def __str__(self) -> str:
        return self.name


class NoticeStep(Timed):
    """What is charged when a visit did not happen, by how long before it was said."""

    class Kind(models.TextChoices):
        NO_SHOW = "no_show", "no-show"
        LATE_CALL_OFF = "late_call_off", "late call-off"

    kind = models.CharField(max_length=13, choices=Kind.choices)
    under_hours = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="less notice than this; empty: any"
    )
    percent = _percent("of the work that was planned")
    amount = _amount("for the visit")
    with_call_out = models.BooleanField(default=False)

    class Meta:
        ordering = ["kind", F("under_hours").asc(nulls_last=True), "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "under_hours"], name="notice_step_once"
            ),
            models.UniqueConstraint(
                fields=["kind"],
                condition=Q(under_hours__isnull=True),
                name="notice_step_for_any_notice_once",
            ),
            _one_of("notice_step_percent_or_amount"),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()

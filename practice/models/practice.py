"""The practice itself: one row."""

from zoneinfo import ZoneInfo

from django.db import models
from django.db.models import Q

from practice.languages import known
from practice.models.base import Timed
from practice.models.people import Client


class PracticeManager(models.Manager["Practice"]):
    def the_one(self) -> "Practice":
        """The practice of this installation.

        Raises:
            Practice.DoesNotExist: nothing has been set up yet.
        """
        return self.get(pk=1)


class Practice(Timed):
    """The business that runs this installation."""

    class LengthUnit(models.TextChoices):
        MM = "mm", "millimetres"
        CM = "cm", "centimetres"
        INCH = "in", "inches"

    class MassUnit(models.TextChoices):
        KG = "kg", "kilograms"
        LB = "lb", "pounds and ounces"

    class RoadUnit(models.TextChoices):
        KM = "km", "kilometres"
        MI = "mi", "miles"

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    name = models.CharField(max_length=120)
    legal_name = models.CharField(max_length=120, blank=True)
    street = models.CharField(max_length=200, blank=True)
    town = models.CharField(max_length=100, blank=True)
    post_code = models.CharField(max_length=20, blank=True)
    country = models.CharField(max_length=2, help_text="ISO 3166-1 alpha-2")
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    language = models.CharField(max_length=10, default="en")
    time_zone = models.CharField(max_length=60, default="Europe/London")
    currency = models.CharField(max_length=3, help_text="ISO 4217")
    length_unit = models.CharField(
        max_length=2, choices=LengthUnit.choices, default=LengthUnit.MM
    )
    mass_unit = models.CharField(
        max_length=2, choices=MassUnit.choices, default=MassUnit.KG
    )
    road_unit = models.CharField(
        max_length=2, choices=RoadUnit.choices, default=RoadUnit.KM
    )
    tax_registered = models.BooleanField(default=False)
    tax_number = models.CharField(max_length=40, blank=True)
    tax_regime = models.CharField(max_length=20, default="none")
    prices_include_tax = models.BooleanField(default=False)
    company_number = models.CharField(max_length=40, blank=True)
    bank_name = models.CharField(max_length=80, blank=True)
    bank_account = models.CharField(max_length=60, blank=True)
    bank_sort_code = models.CharField(max_length=20, blank=True)
    iban = models.CharField(max_length=34, blank=True)
    bic = models.CharField(max_length=11, blank=True)
    payment_days = models.PositiveSmallIntegerField(default=14)
    invoice_terms = models.TextField(blank=True)
    home_latitude = models.DecimalField(
        max_digits=9, decimal_places=6, null=True, blank=True
    )
    home_longitude = models.DecimalField(
        max_digits=9, decimal_places=6, null=True, blank=True
    )
    default_interval_weeks = models.PositiveSmallIntegerField(default=6)
    length_sd_mm = models.DecimalField(max_digits=4, decimal_places=2, default=2)
    angle_sd_deg = models.DecimalField(max_digits=4, decimal_places=2, default=1)
    overhang_limit_mm = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        help_text="of steel outside the wall behind the last nail; ours unless set",
    )
    heel_edge_limit_mm = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        help_text="of steel's edge from the sound line at a heel; ours unless set",
    )
    is_demo = models.BooleanField(default=False)

    objects = PracticeManager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="one_practice"),
            models.CheckConstraint(
                condition=Q(home_latitude__isnull=True, home_longitude__isnull=True)
                | Q(
                    home_latitude__range=(-90, 90),
                    home_longitude__range=(-180, 180),
                ),
                name="practice_home_on_earth",
            ),
            models.CheckConstraint(
                condition=Q(default_interval_weeks__range=(1, 52)),
                name="practice_interval_1_52",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def language_to(self, client: Client | None) -> str:
        """The language in which a client is written to; others get the practice's."""
        return known((client.language if client else "") or self.language)

    @property
    def zone(self) -> ZoneInfo:
        """The practice's time zone; its calendar days are counted in it."""
        return ZoneInfo(self.time_zone)

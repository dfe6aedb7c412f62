"""The day as it went: taps on the phone, and how late it runs."""

from django.db import models
from django.db.models import F, Q

from practice.models import Client, Timed, User
from scheduling.models.bookings import Booking
from scheduling.models.rounds import Round


class RoundActual(Timed):
    """When the farrier left home and came back."""

    round = models.OneToOneField(Round, on_delete=models.CASCADE, related_name="actual")
    left_home_at = models.DateTimeField(null=True, blank=True)
    home_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.round} as it went"


class StopActual(Timed):
    """Arrival and leaving, and the minutes that a stop is known to run late.

    ``late_arriving`` is added to the drive there, ``late_leaving`` to the work: both
    said on the day, before the tap that tells the truth.
    """

    booking = models.OneToOneField(
        Booking, on_delete=models.CASCADE, related_name="actual"
    )
    arrived_at = models.DateTimeField(null=True, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    late_arriving = models.PositiveSmallIntegerField(default=0)
    late_leaving = models.PositiveSmallIntegerField(default=0)
    told_start = models.DateTimeField(
        null=True, blank=True, help_text="the start that those affected were last told"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(arrived_at__isnull=True)
                | Q(left_at__isnull=True)
                | Q(left_at__gte=F("arrived_at")),
                name="stop_left_after_arriving",
            ),
            models.CheckConstraint(
                condition=Q(late_arriving__lte=720, late_leaving__lte=720),
                name="stop_late_within_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.booking} as it went"

    @property
    def late(self) -> int:
        """Minutes that it is said to run late: on the way, or once there, at work."""
        return self.late_leaving if self.arrived_at else self.late_arriving


class TimeTold(Timed):
    """Someone was told that a stop is at another time than before: which, how, by whom.

    When: ``created_at``.
    """

    class Way(models.TextChoices):
        MAIL = "mail", "by e-mail"
        PHONE = "phone", "by phone"

    booking = models.ForeignKey(
        Booking, on_delete=models.CASCADE, related_name="times_told"
    )
    client = models.ForeignKey(
        Client, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    contact = models.ForeignKey(
        User, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    starts = models.DateTimeField(help_text="the start that was told")
    way = models.CharField(max_length=5, choices=Way.choices)
    told_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(client__isnull=False, contact__isnull=True)
                | Q(client__isnull=True, contact__isnull=False),
                name="time_told_to_a_client_or_a_contact",
            ),
            models.CheckConstraint(
                condition=Q(way__in=["mail", "phone"]), name="time_told_way_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.client or self.contact} of {self.starts}"

"""An agreement to attend named horses at a barn on a day."""

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from horses.models import Horse, Ownership, Visit
from practice.keys import uuid7
from practice.models import Barn, Timed, User


class BookingQuerySet(models.QuerySet["Booking"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "BookingQuerySet":
        """Staff see every booking; a barn contact those at the own barns; an owner
        those with a horse that is the owner's on the day.
        """
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.is_of_practice:
            return self
        if viewer.role == User.Role.BARN_CONTACT:
            return self.filter(barn__contacts__user=viewer).distinct()
        if viewer.role == User.Role.OWNER and viewer.client_id:
            mine = BookedHorse.objects.filter(
                booking=OuterRef("pk"),
                horse__in=Ownership.objects.filter(
                    Q(ends__isnull=True) | Q(ends__gte=OuterRef(OuterRef("day"))),
                    client_id=viewer.client_id,
                    starts__lte=OuterRef(OuterRef("day")),
                ).values("horse"),
            )
            return self.filter(Exists(mine))
        return self.none()

    def open(self) -> "BookingQuerySet":
        """Still to be attended or called off."""
        return self.filter(status__in=Booking.OPEN)

    def live(self) -> "BookingQuerySet":
        """Those that keep a horse off the due list: open, or attended and the visit
        not closed yet (closing it moves the due day on)."""
        return self.filter(
            Q(status__in=Booking.OPEN)
            | Q(status=Booking.Status.ATTENDED, visit__state=Visit.State.OPEN)
        )


class Booking(Timed):
    """One barn, one farrier, one day, with its horses."""

    class Status(models.TextChoices):
        PENCILLED = "pencilled", "pencilled"
        ASKED = "asked", "asked"
        AGREED = "agreed", "agreed"
        ATTENDED = "attended", "attended"
        CALLED_OFF = "called_off", "called off"

    OPEN = (Status.PENCILLED, Status.ASKED, Status.AGREED)

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    barn = models.ForeignKey(Barn, on_delete=models.PROTECT, related_name="+")
    farrier = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    day = models.DateField()
    status = models.CharField(
        max_length=10, choices=Status.choices, default=Status.AGREED
    )
    typed_minutes = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="the drive there, where it has no position"
    )
    note = models.CharField(max_length=300, blank=True)
    reason = models.CharField(max_length=300, blank=True, help_text="called off: why")
    starts_at = models.DateTimeField(null=True, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)
    sequence = models.PositiveIntegerField(
        default=0, help_text="raised when time or place change (RFC 5545)"
    )
    told_at = models.DateTimeField(
        null=True, blank=True, help_text="the last change that the calendar shows"
    )
    visit = models.OneToOneField(
        Visit, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    objects = BookingQuerySet.as_manager()

    class Meta:
        ordering = ["day", "starts_at", "pk"]
        indexes = [
            models.Index(fields=["farrier", "day"], name="booking_of_farrier_day")
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    status__in=[
                        "pencilled",
                        "asked",
                        "agreed",
                        "attended",
                        "called_off",
                    ]
                ),
                name="booking_status_known",
            ),
            models.UniqueConstraint(
                fields=["barn", "farrier", "day"],
                condition=~Q(status="called_off"),
                name="booking_once_a_barn_and_day",
            ),
            models.CheckConstraint(
                condition=Q(starts_at__isnull=True, ends_at__isnull=True)
                | Q(ends_at__gte=F("starts_at")),
                name="booking_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.barn} {self.day}"

    @property
    def is_open(self) -> bool:
        return self.status in self.OPEN

    @property
    def is_attended(self) -> bool:
        return self.status == self.Status.ATTENDED


class BookedHorse(Timed):
    """A horse in a booking."""

    booking = models.ForeignKey(
        Booking, on_delete=models.CASCADE, related_name="booked"
    )
    horse = models.ForeignKey(Horse, on_delete=models.CASCADE, related_name="+")

    class Meta:
        ordering = ["horse__name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["booking", "horse"], name="horse_booked_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.horse} in {self.booking_id}"

"""Asking owners and barn contacts whether a day suits, and what they answered."""

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import Q

from horses.models import Horse
from practice.models import Client, Timed, User
from scheduling.models.bookings import Booking

ANSWERS = (
    ("agree", "The day suits"),
    ("other_day", "Another day"),
    ("away", "Away"),
    ("call_off", "Call it off"),
)
"""What an ask may be answered with."""


class AskQuerySet(models.QuerySet["Ask"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "AskQuerySet":
        """Staff see every ask; owners and barn contacts those put to themselves."""
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.is_of_practice:
            return self
        if viewer.role == User.Role.OWNER and viewer.client_id:
            return self.filter(client=viewer.client_id)
        if viewer.role == User.Role.BARN_CONTACT:
            return self.filter(contact=viewer)
        return self.none()

    def standing(self) -> "AskQuerySet":
        """Put and not taken back: open or answered."""
        return self.exclude(state=Ask.State.WITHDRAWN)


class Ask(Timed):
    """One owner, or one barn contact, asked about one booking on its day.

    The link in the mail carries a token of which the SHA-256 alone is kept; opening it
    changes nothing, the buttons on its page do. ``wishes`` are days that the owner would
    take instead: {"day", "farrier", "minutes"} with the added driving as it was shown.
    """

    class State(models.TextChoices):
        OPEN = "open", "not answered"
        AGREED = "agreed", "agreed"
        OTHER_DAY = "other_day", "another day"
        AWAY = "away", "away"
        WITHDRAWN = "withdrawn", "taken back"

    booking = models.ForeignKey(Booking, on_delete=models.CASCADE, related_name="asks")
    client = models.ForeignKey(
        Client, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    contact = models.ForeignKey(
        User, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    email = models.EmailField(blank=True)
    day = models.DateField()
    starts_at = models.DateTimeField(null=True, blank=True)
    token_sha256 = models.CharField(max_length=64, unique=True)
    expires_at = models.DateTimeField()
    state = models.CharField(max_length=9, choices=State.choices, default=State.OPEN)
    answered_at = models.DateTimeField(null=True, blank=True)
    noted_by = models.ForeignKey(
        User,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="of the practice, who took the answer by telephone",
    )
    wishes = models.JSONField(default=list, blank=True)
    away_until = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)

    objects = AskQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["state", "day"], name="ask_by_state_day")]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    state__in=["open", "agreed", "other_day", "away", "withdrawn"]
                ),
                name="ask_state_known",
            ),
            models.CheckConstraint(
                condition=Q(client__isnull=False, contact__isnull=True)
                | Q(client__isnull=True, contact__isnull=False),
                name="ask_of_a_client_or_a_contact",
            ),
            models.UniqueConstraint(
                fields=["booking", "client"],
                condition=Q(client__isnull=False) & ~Q(state="withdrawn"),
                name="client_asked_once_a_booking",
            ),
            models.UniqueConstraint(
                fields=["booking", "contact"],
                condition=Q(contact__isnull=False) & ~Q(state="withdrawn"),
                name="contact_asked_once_a_booking",
            ),
            models.CheckConstraint(
                condition=~Q(state="away") | Q(away_until__isnull=False),
                name="ask_away_until_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.who} about {self.day}"

    @property
    def who(self) -> str:
        """The name of whoever is asked."""
        return str(self.client or self.contact)

    @property
    def is_open(self) -> bool:
        return self.state == self.State.OPEN


class AwayQuerySet(models.QuerySet["Away"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "AwayQuerySet":
        """Staff see all; an owner those of horses visible to the owner."""
        if isinstance(viewer, User) and viewer.is_active and viewer.is_of_practice:
            return self
        return self.filter(horse__in=Horse.objects.visible_to(viewer))


class Away(Timed):
    """A horse that can't be attended up to and with a day: its owner or it is away."""

    horse = models.ForeignKey(Horse, on_delete=models.CASCADE, related_name="+")
    until = models.DateField()
    ask = models.ForeignKey(
        Ask, on_delete=models.SET_NULL, null=True, blank=True, related_name="aways"
    )

    objects = AwayQuerySet.as_manager()

    class Meta:
        ordering = ["until", "pk"]
        indexes = [models.Index(fields=["horse", "until"], name="away_of_horse")]

    def __str__(self) -> str:
        return f"{self.horse} until {self.until}"

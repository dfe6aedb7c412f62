"""Reminders to owners of due horses: what holds for all, for a client, and what went."""

from datetime import time

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import Q

from horses.models import Horse
from practice.models import Client, Message, Timed, User

QUIET_FROM, QUIET_UNTIL = time(20), time(8)


class ReminderSettingsManager(models.Manager["ReminderSettings"]):
    def the_one(self) -> "ReminderSettings":
        """The row; as it stands before anybody has set anything, if there is none."""
        return self.filter(pk=1).first() or ReminderSettings()


class ReminderSettings(Timed):
    """What holds for all clients: one row. Off until the practice turns it on: nobody's
    owners are written to unasked.
    """

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    is_on = models.BooleanField(default=False)
    near_days = models.PositiveSmallIntegerField(
        default=3, help_text="the second reminder: so many days before the target"
    )
    quiet_from = models.TimeField(default=QUIET_FROM)
    quiet_until = models.TimeField(default=QUIET_UNTIL)
    words = models.TextField(
        blank=True, help_text="the practice's own words, below the horses"
    )

    objects = ReminderSettingsManager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="one_reminder_settings"),
            models.CheckConstraint(
                condition=Q(near_days__lte=28), name="reminder_near_0_28"
            ),
        ]

    def __str__(self) -> str:
        return "reminder settings"


class ClientReminders(Timed):
    """How one client is reminded. Without a row: by e-mail, in the practice's hours."""

    class Channel(models.TextChoices):
        MAIL = "mail", "e-mail"
        PHONE = "phone", "ask by phone"
        NONE = "none", "not at all"

    client = models.OneToOneField(Client, on_delete=models.CASCADE, related_name="+")
    channel = models.CharField(
        max_length=5, choices=Channel.choices, default=Channel.MAIL
    )
    quiet_from = models.TimeField(null=True, blank=True)
    quiet_until = models.TimeField(null=True, blank=True)
    stopped_at = models.DateTimeField(
        null=True, blank=True, help_text="stopped by the client, by the link of a mail"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(quiet_from__isnull=True, quiet_until__isnull=True)
                | Q(quiet_from__isnull=False, quiet_until__isnull=False),
                name="client_quiet_both_or_none",
            )
        ]

    def __str__(self) -> str:
        return f"{self.client_id}: {self.channel}"


class ReminderQuerySet(models.QuerySet["Reminder"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "ReminderQuerySet":
        """Those who keep the books see every reminder; nobody else any."""
        if isinstance(viewer, User) and viewer.is_active and viewer.keeps_books:
            return self
        return self.none()

    def to_call(self) -> "ReminderQuerySet":
        """By phone, and nobody has called yet."""
        return self.filter(channel=ClientReminders.Channel.PHONE, called_at=None)


class Reminder(Timed):
    """A client was reminded of a horse, or is to be called: once an occasion, and anew
    after each visit.
    """

    class Occasion(models.TextChoices):
        OPENS = "opens", "the window opens"
        NEAR = "near", "near the target"

    client = models.ForeignKey(Client, on_delete=models.CASCADE, related_name="+")
    horse = models.ForeignKey(Horse, on_delete=models.CASCADE, related_name="+")
    last_visit_day = models.DateField(help_text="of the window: a visit begins anew")
    occasion = models.CharField(max_length=5, choices=Occasion.choices)
    day = models.DateField(help_text="the practice's day on which it was told")
    channel = models.CharField(max_length=5, choices=ClientReminders.Channel.choices)
    message = models.ForeignKey(
        Message, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    earliest = models.DateField(help_text="the window as it was told")
    latest = models.DateField()
    called_at = models.DateTimeField(null=True, blank=True)
    called_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)

    objects = ReminderQuerySet.as_manager()

    class Meta:
        ordering = ["-day", "client__name", "horse__name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["client", "horse", "last_visit_day", "occasion"],
                name="reminded_once_an_occasion",
            )
        ]

    def __str__(self) -> str:
        return f"{self.client_id} of {self.horse_id}: {self.occasion}"

"""The outbox: what is to be sent or made, as rows in the causing transaction."""

from django.db import models
from django.db.models import Q

from practice.models.base import Timed
from practice.models.people import Client


class Message(Timed):
    """One mail to send, or one job to do, in the background."""

    class Channel(models.TextChoices):
        MAIL = "mail", "e-mail"
        JOB = "job", "background job"

    class State(models.TextChoices):
        READY = "ready", "waiting"
        CLAIMED = "claimed", "being sent"
        SENT = "sent", "sent"
        FAILED = "failed", "failed"
        UNSURE = "unsure", "may have gone out twice"
        LET_GO = "let_go", "let go"

    key = models.CharField(
        max_length=120, unique=True, help_text="the same key is queued once"
    )
    channel = models.CharField(max_length=4, choices=Channel.choices)
    kind = models.CharField(max_length=40)
    to = models.EmailField(blank=True)
    client = models.ForeignKey(
        Client,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="messages",
    )
    subject = models.CharField(max_length=200, blank=True)
    body = models.TextField(blank=True)
    payload = models.JSONField(default=dict)
    state = models.CharField(max_length=7, choices=State.choices, default=State.READY)
    run_after = models.DateTimeField()
    tries = models.PositiveSmallIntegerField(default=0)
    claim = models.CharField(max_length=40, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    handed_over_at = models.DateTimeField(
        null=True, blank=True, help_text="set just before it leaves the machine"
    )
    sent_at = models.DateTimeField(null=True, blank=True)
    answer = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [
            models.Index(
                fields=["run_after"],
                name="message_waiting",
                condition=Q(state__in=["ready", "claimed"]),
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}"

"""How the practice collects: nudges, interest on late payment, the month's end."""

from django.db import models
from django.db.models import Q

from practice.keys import uuid7
from practice.models import Timed, User


class Collecting(Timed):
    """One row: how the practice collects."""

    class Law(models.TextChoices):
        NONE = "", "none"
        EU = "EU", "Directive 2011/7/EU"
        UK = "UK", "Late Payment Act 1998 (UK)"

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    nudges_on = models.BooleanField(
        default=False, help_text="mails to remind clients of what they have to pay"
    )
    days_before = models.PositiveSmallIntegerField(
        default=3, help_text="before the due day; 0: none then"
    )
    receipts_on = models.BooleanField(
        default=False, help_text="a receipt is mailed unless somebody says otherwise"
    )
    late_law = models.CharField(
        max_length=2, blank=True, default="", choices=Law.choices
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="one_way_of_collecting"),
            models.CheckConstraint(
                condition=Q(days_before__lte=30), name="nudge_at_most_30_days_before"
            ),
        ]

    def __str__(self) -> str:
        return "collecting"


class LatePercent(Timed):
    """The yearly rate of late-payment interest from a day on, all included: entered by
    the operator, who looks it up."""

    starts = models.DateField(unique=True)
    percent = models.DecimalField(max_digits=5, decimal_places=2)

    class Meta:
        ordering = ["starts"]
        constraints = [
            models.CheckConstraint(
                condition=Q(percent__gte=0, percent__lte=100), name="late_percent_0_100"
            )
        ]

    def __str__(self) -> str:
        return f"{self.percent} % from {self.starts}"


class IssueRun(Timed):
    """All drafts of a moment, issued by the worker a few at a time. ``todo`` is fixed
    when it starts; ``at`` moves in the transaction that issues."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    day = models.DateField(help_text="issue day of all of them")
    todo = models.JSONField(help_text="keys of the drafts, in order")
    at = models.PositiveIntegerField(default=0)
    issued = models.PositiveIntegerField(default=0)
    refused = models.JSONField(default=list, help_text="[key, who, why]")
    by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return f"{self.issued} of {self.count} issued"

    @property
    def count(self) -> int:
        """How many drafts it set out to issue."""
        return len(self.todo)

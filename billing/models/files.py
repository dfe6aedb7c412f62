"""Files of the books that the worker makes: a month's PDFs as one, a year's archive."""

from django.db import models
from django.db.models import Q

from practice.keys import uuid7
from practice.models import Timed, User


class MadeFile(Timed):
    """A file that somebody asked for: under way, made, or refused with the reason.
    Kept for some days; it can be made again from the books at any time."""

    class Kind(models.TextChoices):
        MONTH = "month", "a month's documents as one PDF"
        YEAR = "year", "a year's archive"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    kind = models.CharField(max_length=5, choices=Kind.choices)
    first = models.DateField(help_text="first day of the month or year")
    at = models.PositiveIntegerField(default=0, help_text="documents looked at")
    count = models.PositiveIntegerField(default=0, help_text="documents there are")
    size = models.PositiveBigIntegerField(default=0, help_text="bytes")
    sha256 = models.CharField(max_length=64, blank=True, help_text="empty until made")
    refused = models.CharField(max_length=300, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "first"],
                condition=Q(ended_at__isnull=True),
                name="one_file_of_a_period_under_way",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        """What it is called where it is saved."""
        if self.kind == self.Kind.YEAR:
            return f"books-{self.first:%Y}.zip"
        return f"documents-{self.first:%Y-%m}.pdf"

    @property
    def media_type(self) -> str:
        is_year = self.kind == self.Kind.YEAR
        return "application/zip" if is_year else "application/pdf"

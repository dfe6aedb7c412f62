"""How documents look on paper: the practice's wishes, and its logo."""

from django.db import models
from django.db.models import Q

from practice.models import Timed


class Logo(models.Model):
    """A logo under its SHA-256: made anew as a JPEG, never changed, since documents
    that were issued with it name it."""

    sha256 = models.CharField(max_length=64, primary_key=True)
    content = models.BinaryField()
    width_px = models.PositiveSmallIntegerField()
    height_px = models.PositiveSmallIntegerField()
    created_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.sha256[:12]


class PaperSettings(Timed):
    """What the practice wants on its documents: one row, made when it is first set."""

    class Size(models.TextChoices):
        BY_COUNTRY = "", "as usual in the country"
        A4 = "A4", "A4"
        LETTER = "letter", "Letter"

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    size = models.CharField(max_length=6, choices=Size.choices, blank=True)
    logo = models.ForeignKey(
        Logo, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    draws_feet = models.BooleanField(
        default=False, help_text="what was done to each foot, as small marks"
    )
    pay_link = models.CharField(
        max_length=300,
        blank=True,
        help_text="https; may hold {number}, {amount}, {currency}",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="one_paper_settings"),
            models.CheckConstraint(
                condition=Q(size__in=["", "A4", "letter"]), name="paper_size_known"
            ),
        ]

    def __str__(self) -> str:
        return "paper"

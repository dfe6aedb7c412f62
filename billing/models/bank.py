"""Bank statements brought in, and what became of each line."""

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import Q

from billing.models.invoices import amount_field
from billing.models.payments import Payment
from practice.keys import uuid7
from practice.models import Client, Timed, User


class BankQuerySet(models.QuerySet["BankImport"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "BankQuerySet":
        """Those who keep the books; nobody else."""
        if isinstance(viewer, User) and viewer.is_active and viewer.keeps_books:
            return self
        return self.none()


class BankImport(Timed):
    """One file from the bank."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    name = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    format = models.CharField(max_length=10)
    known = models.PositiveIntegerField(
        default=0, help_text="lines that an earlier file had brought"
    )
    by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    undone_at = models.DateTimeField(null=True, blank=True)

    objects = BankQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return self.name


class BankLineQuerySet(models.QuerySet["BankLine"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "BankLineQuerySet":
        """Those who keep the books; nobody else."""
        if isinstance(viewer, User) and viewer.is_active and viewer.keeps_books:
            return self
        return self.none()


class BankLine(Timed):
    """One movement on the practice's account; money in may pay a client's invoices."""

    class State(models.TextChoices):
        WAITING = "waiting", "to look at"
        POSTED = "posted", "posted"
        IGNORED = "ignored", "left out"
        UNDONE = "undone", "undone"

    brought_by = models.ForeignKey(
        BankImport, on_delete=models.PROTECT, related_name="lines"
    )
    key = models.CharField(max_length=64, help_text="SHA-256 of what makes it itself")
    account = models.CharField(max_length=40, blank=True)
    day = models.DateField()
    amount = amount_field("below 0: money out")
    currency = models.CharField(max_length=3)
    reference = models.CharField(max_length=80, blank=True, help_text="the bank's own")
    text = models.TextField(blank=True)
    payer_name = models.CharField(max_length=140, blank=True)
    payer_account = models.CharField(max_length=40, blank=True)
    state = models.CharField(max_length=7, choices=State.choices, default=State.WAITING)
    found_by = models.CharField(
        max_length=10, blank=True, help_text="what the proposal stands on"
    )
    why = models.CharField(max_length=200, blank=True)
    client = models.ForeignKey(
        Client,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="proposed, or who paid",
    )
    numbers = models.JSONField(default=list, help_text="documents proposed, in order")
    payment = models.OneToOneField(
        Payment, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = BankLineQuerySet.as_manager()

    class Meta:
        ordering = ["-day", "pk"]
        indexes = [
            models.Index(fields=["payer_account"], name="bank_line_payer_account"),
            models.Index(fields=["state"], name="bank_line_state"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["key"],
                condition=~Q(state="undone"),
                name="bank_line_brought_once",
            ),
            models.CheckConstraint(
                condition=~Q(state="posted") | Q(payment__isnull=False),
                name="bank_line_posted_has_payment",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.amount}"


class StatementColumns(Timed):
    """What the columns of a bank's CSV mean, remembered by its heading."""

    heading_sha256 = models.CharField(max_length=64, unique=True)
    columns = models.JSONField(help_text="meaning → column, from 0")
    account = models.CharField(max_length=40, blank=True)

    def __str__(self) -> str:
        return self.heading_sha256[:12]

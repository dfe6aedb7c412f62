"""Money that came in, and what it paid."""

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import Q

from billing.models.invoices import Invoice, amount_field
from practice.keys import uuid7
from practice.models import Client, Timed, User


class PaymentQuerySet(models.QuerySet["Payment"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "PaymentQuerySet":
        """Those who keep the books see all; an owner the own; nobody else any."""
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.keeps_books:
            return self
        if viewer.role == User.Role.OWNER and viewer.client_id:
            return self.filter(client_id=viewer.client_id)
        return self.none()


class Payment(Timed):
    """Money received from a client. The key is made by whoever takes it, so that
    sending twice is harmless; what isn't allocated is the client's credit.
    """

    class Method(models.TextChoices):
        CASH = "cash", "cash"
        CHEQUE = "cheque", "cheque"
        CARD = "card", "card"
        TRANSFER = "transfer", "bank transfer"
        LINK = "link", "payment link"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="+")
    day = models.DateField()
    currency = models.CharField(max_length=3)
    amount = amount_field()
    method = models.CharField(max_length=8, choices=Method.choices)
    reference = models.CharField(max_length=80, blank=True)
    note = models.CharField(max_length=200, blank=True)
    taken_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = PaymentQuerySet.as_manager()

    class Meta:
        ordering = ["-day", "-pk"]
        indexes = [models.Index(fields=["client", "day"], name="payment_of_client")]
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gt=0), name="payment_above_nothing"
            )
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.currency} by {self.method}"


class AllocationQuerySet(models.QuerySet["Allocation"]):
    def standing(self) -> "AllocationQuerySet":
        """What counts: neither reversed nor reversing. (Told by the sign, as the
        constraint has it: SQLite would look through all that reverse nothing.)"""
        return self.filter(amount__gt=0, reversed_by__isnull=True)


class Allocation(Timed):
    """How much of a payment pays an invoice. Never changed: what is no longer so is
    undone by a row that reverses it, below 0. The sum of its rows is what a payment
    has paid of an invoice.
    """

    payment = models.ForeignKey(
        Payment, on_delete=models.PROTECT, related_name="allocations"
    )
    invoice = models.ForeignKey(
        Invoice, on_delete=models.PROTECT, related_name="allocations"
    )
    amount = amount_field("below 0: undoes an earlier row")
    day = models.DateField(help_text="from when it counts")
    reverses = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="reversed_by",
    )

    objects = AllocationQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["day"], name="allocation_by_day")]
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gt=0, reverses__isnull=True)
                | Q(amount__lt=0, reverses__isnull=False),
                name="allocation_above_nothing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} of {self.payment_id} to {self.invoice_id}"

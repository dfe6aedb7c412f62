"""The ledger: what each payer came to owe and paid, entry by entry, never changed.

An entry is signed: an issued invoice, and money paid back, raise what the client owes;
a credit note, a payment and a write-off lower it. What was booked wrongly is undone by
an entry that reverses it. Triggers refuse UPDATE and DELETE (migration
``the_ledger_stays``). The control equation, which ``billing.selectors.ledger`` reckons:
the sum of a client's entries is what is open less what is unapplied.
"""

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import F, Q

from billing.models.invoices import Invoice, amount_field
from billing.models.payments import Payment
from practice.models import Client, User


class LedgerQuerySet(models.QuerySet["LedgerEntry"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "LedgerQuerySet":
        """Those who keep the books see all; an owner the own; nobody else any."""
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.keeps_books:
            return self
        if viewer.role == User.Role.OWNER and viewer.client_id:
            return self.filter(client_id=viewer.client_id)
        return self.none()


class LedgerEntry(models.Model):
    """One booking on a client's account."""

    class Kind(models.TextChoices):
        ISSUE = "issue", "invoice"
        CREDIT = "credit", "credit note"
        PAYMENT = "payment", "payment"
        REFUND = "refund", "paid back"
        WRITE_OFF = "write_off", "written off"

    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=9, choices=Kind.choices)
    day = models.DateField()
    currency = models.CharField(max_length=3)
    amount = amount_field("above 0: the client owes more")
    invoice = models.ForeignKey(
        Invoice,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="entries",
        help_text="the document issued, or what is written off",
    )
    payment = models.ForeignKey(
        Payment,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="entries",
        help_text="the payment, or what is paid back of it",
    )
    reverses = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="reversed_by",
    )
    key = models.UUIDField(null=True, blank=True, unique=True)
    method = models.CharField(
        max_length=8,
        blank=True,
        choices=Payment.Method.choices,
        help_text="of a refund",
    )
    reason = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    objects = LedgerQuerySet.as_manager()

    class Meta:
        ordering = ["day", "pk"]
        indexes = [
            models.Index(fields=["client", "day"], name="ledger_of_client"),
            models.Index(fields=["kind", "day"], name="ledger_by_kind"),
            models.Index(fields=["day"], name="ledger_by_day"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(kind="issue", invoice__isnull=False, payment__isnull=True)
                    | Q(kind="credit", invoice__isnull=False, payment__isnull=True)
                    | Q(kind="write_off", invoice__isnull=False, payment__isnull=True)
                    | Q(kind="payment", payment__isnull=False, invoice__isnull=True)
                    | Q(kind="refund", payment__isnull=False, invoice__isnull=True)
                ),
                name="ledger_entry_names_its_cause",
            ),
            models.CheckConstraint(
                condition=(
                    Q(kind="issue", reverses__isnull=True, amount__gte=0)
                    | Q(kind="credit", reverses__isnull=True, amount__lte=0)
                    | Q(kind="refund", reverses__isnull=True, amount__gt=0)
                    | Q(kind="refund", reverses__isnull=False, amount__lt=0)
                    | Q(
                        kind__in=["payment", "write_off"],
                        reverses__isnull=True,
                        amount__lt=0,
                    )
                    | Q(
                        kind__in=["payment", "write_off"],
                        reverses__isnull=False,
                        amount__gt=0,
                    )
                ),
                name="ledger_entry_has_its_sign",
            ),
            models.UniqueConstraint(
                fields=["invoice"],
                condition=Q(kind__in=["issue", "credit"]),
                name="ledger_document_booked_once",
            ),
            models.UniqueConstraint(
                fields=["payment"],
                condition=Q(kind="payment", reverses__isnull=True),
                name="ledger_payment_booked_once",
            ),
            models.CheckConstraint(
                condition=Q(reverses__isnull=True) | ~Q(reverses=F("id")),
                name="ledger_entry_reverses_another",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.amount}"


class Dispute(models.Model):
    """What a client objects to: nudges stop until it is settled."""

    invoice = models.ForeignKey(
        Invoice, on_delete=models.PROTECT, related_name="disputes"
    )
    since = models.DateField()
    reason = models.CharField(max_length=300)
    settled_on = models.DateField(null=True, blank=True)
    by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["invoice"],
                condition=Q(settled_on__isnull=True),
                name="one_open_dispute_an_invoice",
            ),
            models.CheckConstraint(
                condition=Q(settled_on__isnull=True) | Q(settled_on__gte=F("since")),
                name="dispute_settled_after_its_start",
            ),
        ]

    def __str__(self) -> str:
        return self.reason

"""Invoices and credit notes, their lines, their issued bytes, their numbers.

An issued document never changes: triggers refuse UPDATE and DELETE of the row and of
its lines (migration ``the_issued_stays``). So nothing that comes later (payments,
credit) is stored on it; ``with_balance`` reckons what is open.
"""

from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import F, OuterRef, Q, Subquery, Sum, Value
from django.db.models.functions import Coalesce, Round

from billing.models.charges import ChargeItem, TaxCategory
from horses.models import Horse, Visit, VisitRecord
from practice.keys import uuid7
from practice.models import Client, Timed, User

_NOTHING = Value(Decimal(0))


def amount_field(help_text: str = "", **more: Any) -> "models.DecimalField[Any, Any]":
    """An amount in the invoice's currency, three decimals being the most there are."""
    return models.DecimalField(
        max_digits=12, decimal_places=3, help_text=help_text, **more
    )


class InvoiceQuerySet(models.QuerySet["Invoice"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "InvoiceQuerySet":
        """Those who keep the books see all; an owner the own issued ones, whoever
        owned the horse before; nobody else any.
        """
        if not isinstance(viewer, User) or not viewer.is_active:
            return self.none()
        if viewer.keeps_books:
            return self
        if viewer.role == User.Role.OWNER and viewer.client_id:
            return self.filter(client_id=viewer.client_id, state=Invoice.State.ISSUED)
        return self.none()

    def drafts(self) -> "InvoiceQuerySet":
        return self.filter(state=Invoice.State.DRAFT)

    def issued(self) -> "InvoiceQuerySet":
        return self.filter(state=Invoice.State.ISSUED)

    def with_balance(self, as_of: date | None = None) -> "InvoiceQuerySet":
        """Adds ``allocated``, ``credited``, ``written_off`` and ``open_amount`` (kept
        within 0 and ``due`` by the services; 0 for a credit note and for a draft).

        Args:
            as_of: as it stood at the end of this day; None counts all that is booked.
        """
        by = {} if as_of is None else {"day__lte": as_of}
        credit = Q(credit_notes__state="issued")
        if as_of is not None:
            credit &= Q(credit_notes__issue_day__lte=as_of)
        itself = Invoice.objects.filter(pk=OuterRef("pk")).order_by().values("pk")
        allocated = itself.annotate(
            sum=Sum(
                "allocations__amount",
                filter=Q(**{f"allocations__{name}": day for name, day in by.items()}),
            )
        ).values("sum")
        credited = itself.annotate(sum=Sum("credit_notes__due", filter=credit)).values(
            "sum"
        )
        written_off = itself.annotate(
            sum=Sum(
                "entries__amount",
                filter=Q(
                    entries__kind="write_off",
                    **{f"entries__{name}": day for name, day in by.items()},
                ),
            )
        ).values("sum")
        decimal: models.DecimalField[Any, Any] = models.DecimalField(
            max_digits=12, decimal_places=3
        )
        counts = Q(state=Invoice.State.ISSUED) & ~Q(kind=Invoice.Kind.CREDIT_NOTE)
        if as_of is not None:
            counts &= Q(issue_day__lte=as_of)

        def added(sum_of: Any) -> Any:
            # Rounded, since SQLite reckons decimals as binary floats.
            exact = Coalesce(Subquery(sum_of), _NOTHING, output_field=decimal)
            return Round(exact, precision=3, output_field=decimal)

        return self.annotate(
            allocated=added(allocated),
            credited=added(credited),
            written_off=-added(written_off),
        ).annotate(
            open_amount=models.Case(
                models.When(
                    counts,
                    then=Round(
                        F("due") - F("allocated") - F("credited") - F("written_off"),
                        precision=3,
                        output_field=decimal,
                    ),
                ),
                default=_NOTHING,
                output_field=decimal,
            )
        )

    def open(self) -> "InvoiceQuerySet":
        """Issued and not wholly paid or credited; has ``open_amount``."""
        return self.with_balance().filter(Q(open_amount__gt=0))

    def overdue(self, today: date) -> "InvoiceQuerySet":
        return self.open().filter(due_day__lt=today)


class Invoice(Timed):
    """An invoice, credit note or prepayment invoice: draft until it is issued."""

    class Kind(models.TextChoices):
        INVOICE = "380", "invoice"
        CREDIT_NOTE = "381", "credit note"
        PREPAYMENT = "386", "prepayment invoice"

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        ISSUED = "issued", "issued"
        DISCARDED = "discarded", "discarded"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    kind = models.CharField(max_length=3, choices=Kind.choices, default=Kind.INVOICE)
    state = models.CharField(max_length=9, choices=State.choices, default=State.DRAFT)
    number = models.CharField(max_length=20, null=True, blank=True)  # noqa: DJ001 - null: a draft has none, and UNIQUE counts empty texts as twins
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="+")
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    draft_key = models.CharField(
        max_length=80,
        null=True,
        blank=True,
        unique=True,
        help_text="names what it was drafted for, so that drafting again is harmless",
    )
    corrects = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="credit_notes",
    )
    currency = models.CharField(max_length=3)
    prices_include_tax = models.BooleanField(default=False)
    issue_day = models.DateField(null=True, blank=True)
    due_day = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)
    line_total = amount_field("BT-106", default=0)
    tax_total = amount_field("BT-110", default=0)
    total = amount_field("BT-112: with tax", default=0)
    rounding = amount_field("BT-114", default=0)
    due = amount_field("BT-115: the amount due for payment", default=0)
    # Null where there is none: a column that may be null is added without SQLite
    # making the table (and its triggers) anew.
    allowance_total = amount_field("BT-107", null=True, blank=True)
    charge_total = amount_field("BT-108", null=True, blank=True)
    prepaid = amount_field(
        "BT-113: received before, without a document of its own", null=True, blank=True
    )
    snapshot = models.JSONField(
        null=True, blank=True, help_text="all that the document says, parties included"
    )
    snapshot_sha256 = models.CharField(max_length=64, blank=True)
    issued_at = models.DateTimeField(null=True, blank=True)
    issued_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = InvoiceQuerySet.as_manager()

    class Meta:
        ordering = ["-issue_day", "-pk"]
        indexes = [
            models.Index(fields=["client", "state"], name="invoice_of_client"),
            models.Index(fields=["visit"], name="invoice_of_visit"),
            models.Index(fields=["state", "issue_day"], name="invoice_by_day"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="invoice_number_once"),
            models.CheckConstraint(
                condition=Q(
                    state="issued",
                    number__isnull=False,
                    issue_day__isnull=False,
                    due_day__isnull=False,
                    issued_at__isnull=False,
                    snapshot__isnull=False,
                )
                | (~Q(state="issued") & Q(number__isnull=True, snapshot__isnull=True)),
                name="invoice_draft_has_no_number",
            ),
            models.CheckConstraint(
                condition=Q(kind="381", corrects__isnull=False)
                | (~Q(kind="381") & Q(corrects__isnull=True)),
                name="credit_note_corrects_an_invoice",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["380", "381", "386"]), name="invoice_known_kind"
            ),
        ]

    def __str__(self) -> str:
        return self.number or f"draft for {self.client_id}"

    @property
    def is_draft(self) -> bool:
        return self.state == self.State.DRAFT

    @property
    def is_issued(self) -> bool:
        return self.state == self.State.ISSUED


class InvoiceLine(Timed):
    """One line. ``unit_price`` and ``amount`` are in the invoice's price mode, ``net``
    (BT-131) is without tax. A co-owner's or a payer's part has its share beside it.
    """

    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    charge_item = models.ForeignKey(
        ChargeItem, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    record = models.ForeignKey(
        VisitRecord, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    horse = models.ForeignKey(
        Horse, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    name = models.CharField(max_length=200)
    note = models.CharField(max_length=200, blank=True)
    service_day = models.DateField(null=True, blank=True)
    quantity = models.DecimalField(max_digits=9, decimal_places=3, default=1)
    unit = models.CharField(max_length=3, default="C62", help_text="UN/ECE Rec 20")
    unit_price = amount_field()
    amount = amount_field("quantity × price, in the price mode")
    net = amount_field("BT-131")
    share = models.DecimalField(
        max_digits=7,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="percent of the whole, where it was shared",
    )
    whole = amount_field("what was shared", null=True, blank=True)
    corrects = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="corrected_by",
        help_text="the invoice's line that a credit note takes back",
    )
    needs_price = models.BooleanField(
        default=False, help_text="nothing in the charge list says what it costs"
    )
    tax_code = models.CharField(max_length=20)
    tax_category = models.CharField(max_length=2, choices=TaxCategory.choices)
    tax_percent = models.DecimalField(
        max_digits=6, decimal_places=3, null=True, blank=True
    )
    tax_reason_code = models.CharField(max_length=30, blank=True)
    tax_reason = models.CharField(max_length=200, blank=True)
    # What came later may be null, so that SQLite need not make the table anew.
    rule = models.CharField(  # noqa: DJ001 - null: added later, see the comment above
        max_length=20,
        null=True,
        blank=True,
        help_text="what of the charge list or its rules made the line",
    )
    work_words = models.CharField(  # noqa: DJ001 - null: added later, see the comment above
        max_length=400,
        null=True,
        blank=True,
        help_text="what was done, in words an owner follows",
    )
    includes_tax = models.BooleanField(
        null=True, blank=True, help_text="price mode, where it isn't the invoice's"
    )
    base_quantity = models.DecimalField(
        max_digits=9,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="BT-149: the price is for so many; empty: one",
    )
    prepayment = models.ForeignKey(
        Invoice,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="deductions",
        help_text="the prepayment invoice that this line takes off",
    )
    allowance = amount_field("BT-136, in the price mode", null=True, blank=True)
    allowance_reason = models.CharField(  # noqa: DJ001 - null: added later, see the comment above
        max_length=200, null=True, blank=True, help_text="BT-139"
    )

    class Meta:
        ordering = ["invoice", "position", "pk"]
        indexes = [models.Index(fields=["visit"], name="invoice_line_of_visit")]
        constraints = [
            models.UniqueConstraint(
                fields=["invoice", "position"], name="invoice_line_position_once"
            ),
            models.CheckConstraint(condition=~Q(name=""), name="invoice_line_named"),
            models.CheckConstraint(
                condition=Q(unit_price__gte=0), name="invoice_line_price_not_negative"
            ),
            models.CheckConstraint(
                condition=Q(share__isnull=True) | Q(share__gt=0, share__lte=100),
                name="invoice_line_share_0_100",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Rendition(Timed):
    """The bytes of an issued document, made once, filed under their SHA-256."""

    class Kind(models.TextChoices):
        PDF = "pdf", "PDF"
        CII = "cii", "Cross Industry Invoice (XML)"
        UBL = "ubl", "UBL 2.1 (XML)"

    invoice = models.ForeignKey(
        Invoice, on_delete=models.PROTECT, related_name="renditions"
    )
    kind = models.CharField(max_length=3, choices=Kind.choices, default=Kind.PDF)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    maker = models.CharField(max_length=60, help_text="program and version")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["invoice", "kind"], name="rendition_once_a_kind"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.sha256[:12]}"


class Sequence(models.Model):
    """The next number of a series: one row, moved by UPDATE in the transaction that
    issues, so that a rollback gives the number back (a database sequence would not).
    """

    series = models.CharField(max_length=10, unique=True)
    next_no = models.PositiveIntegerField(default=1)
    last_day = models.DateField(
        null=True, blank=True, help_text="issue day of the last number"
    )

    def __str__(self) -> str:
        return f"{self.series} {self.next_no}"

"""Allowances and charges on a document as a whole."""

from django.db import models
from django.db.models import Q

from billing.models.charges import TaxCategory
from billing.models.invoices import Invoice, amount_field
from practice.models import Timed


class InvoiceAllowance(Timed):
    """An allowance (BG-20) or charge (BG-21) on a document as a whole: one row for
    each tax that the document has. ``amount`` is in the row's price mode, ``net``
    (BT-92, BT-99) without tax.
    """

    invoice = models.ForeignKey(
        Invoice, on_delete=models.CASCADE, related_name="allowances"
    )
    position = models.PositiveSmallIntegerField()
    is_charge = models.BooleanField(default=False)
    amount = amount_field()
    net = amount_field("BT-92, BT-99")
    includes_tax = models.BooleanField(default=False)
    base = amount_field("BT-93: what the percentage is of", null=True, blank=True)
    percent = models.DecimalField(
        max_digits=7, decimal_places=4, null=True, blank=True, help_text="BT-94"
    )
    reason = models.CharField(max_length=200, help_text="BT-97, BT-104")
    reason_code = models.CharField(
        max_length=4, blank=True, help_text="UNTDID 5189 (allowance) or 7161 (charge)"
    )
    tax_code = models.CharField(max_length=20)
    tax_category = models.CharField(max_length=2, choices=TaxCategory.choices)
    tax_percent = models.DecimalField(
        max_digits=6, decimal_places=3, null=True, blank=True
    )
    tax_reason_code = models.CharField(max_length=30, blank=True)
    tax_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["invoice", "position", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["invoice", "position"], name="invoice_allowance_position_once"
            ),
            models.CheckConstraint(
                condition=~Q(reason=""), name="invoice_allowance_says_why"
            ),
            models.CheckConstraint(
                condition=Q(amount__gte=0), name="invoice_allowance_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return self.reason

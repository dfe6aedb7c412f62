"""Who owes what, on paper that holds."""

from billing.models.charges import ChargeItem, Price, TaxClass, TaxRate
from billing.models.invoices import (
    Invoice,
    InvoiceAllowance,
    InvoiceLine,
    Rendition,
    Sequence,
)
from billing.models.payments import Allocation, Payment
from billing.models.rules import (
    BillingSettings,
    NoticeStep,
    OffHours,
    SplitMode,
    TravelBand,
)
from billing.models.terms import BarnTerms, ClientTerms

__all__ = [
    "Allocation",
    "BarnTerms",
    "BillingSettings",
    "ChargeItem",
    "ClientTerms",
    "Invoice",
    "InvoiceAllowance",
    "InvoiceLine",
    "NoticeStep",
    "OffHours",
    "Payment",
    "Price",
    "Rendition",
    "Sequence",
    "SplitMode",
    "TaxClass",
    "TaxRate",
    "TravelBand",
]

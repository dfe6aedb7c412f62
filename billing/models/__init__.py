"""Who owes what, on paper that holds."""

from billing.models.charges import ChargeItem, TaxRate
from billing.models.invoices import Invoice, InvoiceLine, Rendition, Sequence
from billing.models.payments import Allocation, Payment

__all__ = [
    "Allocation",
    "ChargeItem",
    "Invoice",
    "InvoiceLine",
    "Payment",
    "Rendition",
    "Sequence",
    "TaxRate",
]

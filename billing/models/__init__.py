"""Who owes what, on paper that holds."""

from billing.models.allowances import InvoiceAllowance
from billing.models.bank import BankImport, BankLine, StatementColumns
from billing.models.charges import ChargeItem, Price, TaxClass, TaxRate
from billing.models.collecting import Collecting, IssueRun, LatePercent
from billing.models.files import MadeFile
from billing.models.invoices import (
    Invoice,
    InvoiceLine,
    Rendition,
    Sequence,
)
from billing.models.ledger import Dispute, LedgerEntry
from billing.models.paper import Logo, PaperSettings
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
    "BankImport",
    "BankLine",
    "BarnTerms",
    "BillingSettings",
    "ChargeItem",
    "ClientTerms",
    "Collecting",
    "Dispute",
    "Invoice",
    "InvoiceAllowance",
    "InvoiceLine",
    "IssueRun",
    "LatePercent",
    "LedgerEntry",
    "Logo",
    "MadeFile",
    "NoticeStep",
    "OffHours",
    "PaperSettings",
    "Payment",
    "Price",
    "Rendition",
    "Sequence",
    "SplitMode",
    "StatementColumns",
    "TaxClass",
    "TaxRate",
    "TravelBand",
]

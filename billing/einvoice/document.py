"""What EN 16931 asks of an invoice, read from the snapshot of an issued document.

Names of fields follow the standard's business terms (BT), which stand beside them.
Amounts are decimals in the major unit, days are dates.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from billing import money
from billing.snapshot import as_current

EUROPE = frozenset(
    [
        "AT",
        "BE",
        "BG",
        "HR",
        "CY",
        "CZ",
        "DK",
        "EE",
        "FI",
        "FR",
        "DE",
        "GR",
        "HU",
        "IE",
        "IT",
        "LV",
        "LT",
        "LU",
        "MT",
        "NL",
        "PL",
        "PT",
        "RO",
        "SK",
        "SI",
        "ES",
        "SE",
        "GB",
        "NO",
        "IS",
        "LI",
        "CH",
    ]
)
"""Where the model of EN 16931 fits: the European Union, the United Kingdom, and the
neighbours that invoice by it. Elsewhere the PDF carries no XML."""

SEPA, UNDEFINED = "58", "1"
"""Means of payment (UNTDID 4461): a SEPA transfer; none is named."""

_NOT_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


class Unsayable(ValueError):
    """A document that EN 16931 has no valid form for; the message says what lacks."""


@dataclass(frozen=True, slots=True)
class Party:
    """BG-4 or BG-7. ``vat_id`` BT-31/48, ``tax_number`` BT-32, ``legal_id`` BT-30/47,
    ``other_id`` BT-29, ``trading_name`` BT-28."""

    name: str
    trading_name: str
    street: str
    town: str
    post_code: str
    country: str
    email: str
    vat_id: str = ""
    tax_number: str = ""
    legal_id: str = ""
    other_id: str = ""


@dataclass(frozen=True, slots=True)
class Adjustment:
    """An allowance or a charge, of the document (BG-20, BG-21) or a line (BG-27,
    BG-28). ``amount`` is without tax; ``code`` from UNTDID 5189 or 7161."""

    adds: bool
    amount: Decimal
    reason: str
    code: str = ""
    category: str = ""
    percent: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """BG-25. ``price`` (BT-146) is for ``base`` (BT-149) of ``unit``;
    ``adjustments`` are BG-27 and BG-28."""

    key: str
    name: str
    note: str
    day: date | None
    quantity: Decimal
    unit: str
    price: Decimal
    base: Decimal
    net: Decimal
    category: str
    percent: Decimal | None
    adjustments: tuple[Adjustment, ...] = ()


@dataclass(frozen=True, slots=True)
class Group:
    """BG-23."""

    category: str
    percent: Decimal | None
    basis: Decimal
    tax: Decimal
    reason: str
    reason_code: str


@dataclass(frozen=True, slots=True)
class Account:
    """BG-16/17. ``means`` BT-81, ``iban`` or ``proprietary`` BT-84, ``bic`` BT-86."""

    means: str
    iban: str = ""
    proprietary: str = ""
    bic: str = ""


@dataclass(frozen=True, slots=True)
class Document:
    """An invoice (380), credit note (381) or prepayment invoice (386)."""

    kind: str
    number: str
    issue_day: date
    due_day: date
    currency: str
    note: str
    terms: str
    remittance: str
    buyer_reference: str
    seller: Party
    buyer: Party
    account: Account
    lines: tuple[Line, ...]
    adjustments: tuple[Adjustment, ...]
    groups: tuple[Group, ...]
    preceding: tuple[tuple[str, date], ...]
    totals: Mapping[str, Decimal]

    @property
    def is_credit(self) -> bool:
        return self.kind == "381"

    @property
    def supply_day(self) -> date | None:
        """BT-72: the last day of work, where lines have days."""
        return max((line.day for line in self.lines if line.day), default=None)


def has_vat_system(country: str) -> bool:
    """Whether a seller of this country (ISO 3166-1) gets an e-invoice."""
    return country in EUROPE


def read(snapshot: Mapping[str, Any]) -> Document:
    """The snapshot in the standard's terms.

    Raises Unsayable where the result could not be valid: the seller's country is
    outside ``EUROPE``, a tax number lacks, categories can't stand side by side.
    """
    snapshot = _cleaned(as_current(snapshot))
    categories = {group["category"] for group in snapshot["tax_groups"]}
    _check(snapshot, categories)
    outside = "O" in categories
    seller = _seller(snapshot["seller"], outside=outside)
    return Document(
        kind=snapshot["kind"],
        number=snapshot["number"],
        issue_day=date.fromisoformat(snapshot["issue_day"]),
        due_day=date.fromisoformat(snapshot["due_day"]),
        currency=snapshot["currency"],
        note=snapshot["note"],
        terms=snapshot["terms"],
        remittance=_remittance(snapshot["payment"]),
        buyer_reference=snapshot["buyer"]["reference"],
        seller=seller,
        buyer=_buyer(snapshot["buyer"], seller.country, outside=outside),
        account=_account(snapshot["payment"]),
        lines=tuple(_line(line) for line in snapshot["lines"]),
        adjustments=_adjustments(snapshot["adjustments"]),
        groups=tuple(_group(group) for group in snapshot["tax_groups"]),
        preceding=_preceding(snapshot),
        totals={name: Decimal(value) for name, value in snapshot["totals"].items()},
    )


def _cleaned(value: Any) -> Any:
    """Without what XML 1.0 can't hold (a control character that was pasted)."""
    if isinstance(value, str):
        return _NOT_XML.sub(" ", value)
    if isinstance(value, Mapping):
        return {key: _cleaned(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_cleaned(part) for part in value]
    return value


def _check(snapshot: Mapping[str, Any], categories: set[str]) -> None:
    seller, buyer = snapshot["seller"], snapshot["buyer"]
    if not has_vat_system(seller["country"]):
        raise Unsayable("Sellers outside the European VAT systems get no e-invoice.")
    if money.exponent(snapshot["currency"]) > 2:
        raise Unsayable("EN 16931 knows amounts of two decimals at the most.")
    if "O" in categories and len(categories) > 1:  # BR-O-11
        raise Unsayable(
            "Lines outside the scope of tax can't stand on an e-invoice together with "
            "taxed or exempt ones."
        )
    has_number = seller["vat_id"] or seller["tax_id"]
    if categories & {"S", "Z", "E", "AE"} and not has_number:  # BR-S-02, E-02 …
        raise Unsayable(
            "An e-invoice with taxed or exempt lines bears the seller's VAT or tax "
            "number: enter it in the practice's settings."
        )
    if "AE" in categories and not buyer["vat_id"]:  # BR-AE-02
        raise Unsayable("Reverse charge needs the client's VAT number.")


def _vat_id(number: str, country: str) -> str:
    """BR-CO-09: with the country's prefix (EL for Greece)."""
    plain = re.sub(r"[\s.\-/]", "", number).upper()
    if not plain or re.match(r"[A-Z]{2}", plain):
        return plain
    return ("EL" if country == "GR" else country) + plain


def _seller(row: Mapping[str, str], *, outside: bool) -> Party:
    # BR-O-02: no VAT identifiers where nothing is in the scope of VAT.
    vat_id = "" if outside else _vat_id(row["vat_id"], row["country"])
    # BR-CO-26: an identifier of some kind; where there is no other, the address that
    # the invoices come from is ours.
    is_known = vat_id or row["registration"]
    return Party(
        name=row["legal_name"],
        trading_name=row["name"] if row["name"] != row["legal_name"] else "",
        street=row["street"],
        town=row["town"],
        post_code=row["post_code"],
        country=row["country"],
        email=row["email"],
        vat_id=vat_id,
        tax_number="" if outside else row["tax_id"],
        legal_id=row["registration"],
        other_id="" if is_known else row["email"] or row["legal_name"],
    )


def _buyer(row: Mapping[str, str], country: str, *, outside: bool) -> Party:
    at = row["country"] or country
    return Party(
        name=row["name"],
        trading_name="",
        street=row["street"],
        town=row["town"],
        post_code=row["post_code"],
        country=at,
        email=row["email"],
        vat_id="" if outside else _vat_id(row["vat_id"], at),
    )


def _account(row: Mapping[str, str]) -> Account:
    if row["iban"]:
        return Account(row["means"], iban=row["iban"], bic=row["bic"])
    if row["account"]:
        parts = (row["sort_code"], row["account"])
        return Account(row["means"], proprietary=" ".join(filter(None, parts)))
    return Account(UNDEFINED)


def _remittance(row: Mapping[str, str]) -> str:
    """BT-83: the creditor reference where transfers within Europe carry it."""
    return row["rf"] if row["means"] == SEPA and row["rf"] else row["remittance"]


def _percent(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)


def _line(row: Mapping[str, Any]) -> Line:
    return Line(
        key=row["id"],
        name=row["name"],
        note=row["note"],
        day=date.fromisoformat(row["service_day"]) if row["service_day"] else None,
        quantity=Decimal(row["quantity"]),
        unit=row["unit"],
        price=Decimal(row["net_price"]),
        base=Decimal(row["base_quantity"]),
        net=Decimal(row["net"]),
        category=row["category"],
        percent=_percent(row["percent"]),
        adjustments=_adjustments(row["allowances"]),
    )


def _adjustments(rows: Sequence[Mapping[str, Any]]) -> tuple[Adjustment, ...]:
    """Allowances first, as both schemas' examples have them."""
    return tuple(
        Adjustment(
            adds=row["charge"],
            amount=Decimal(row["net"]),
            reason=row["reason"],
            code=row["reason_code"],
            category=row.get("category", ""),
            percent=_percent(row.get("rate")),
        )
        for row in sorted(rows, key=lambda row: bool(row["charge"]))
    )


def _group(row: Mapping[str, Any]) -> Group:
    has_reason = row["category"] not in ("S", "Z")
    return Group(
        category=row["category"],
        percent=_percent(row["percent"]),
        basis=Decimal(row["basis"]),
        tax=Decimal(row["tax"]),
        reason=row["reason"] if has_reason else "",
        reason_code=row["reason_code"] if has_reason else "",
    )


def _preceding(snapshot: Mapping[str, Any]) -> tuple[tuple[str, date], ...]:
    """BG-3: what a credit note mends, and the prepayment invoices taken off."""
    rows = [snapshot["corrects"], *snapshot["prepayments"]]
    return tuple(
        (row["number"], date.fromisoformat(row["issue_day"]))
        for row in rows
        if row and row["number"]
    )

"""The reckonings ``totals`` and ``split`` for the command and the API. Pure."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from billing import money, tax
from billing.split import BadWeights, split
from billing.tax import Category, Entry
from practice.reckoning import DIALECT, BadDocument, Reckoning, exact, pointer

CURRENCIES = "ISO 4217, list one, from memory, 2026-01"
_MOST_ENTRIES = 5000
_END = r"(?![\s\S])"  # like $, but not before a last line feed

_CURRENCY = {
    "type": "string",
    "pattern": rf"^[A-Z]{{3}}{_END}",
    "description": "a currency code of ISO 4217, such as GBP.",
}
_MONEY = {
    "type": "string",
    "pattern": rf"^-?[0-9]+(\.[0-9]+)?{_END}",
    "maxLength": 40,
    "description": "an amount in the major unit as a string, such as '12.50', with no "
    "more decimals than the currency has.",
}
_NUMERAL = rf"^-?[0-9]+(\.[0-9]+)?{_END}"
_RATE = {
    "type": ["number", "string", "null"],
    "pattern": _NUMERAL,
    "maxLength": 40,
    "description": "a rate in per cent, a number or a numeric string; absent or null "
    "for category O.",
}
_WEIGHT = {
    "type": ["number", "string"],
    "pattern": _NUMERAL,
    "maxLength": 40,
    "description": "a weight of at least 0, a number or a numeric string.",
}
_CATEGORY = {
    "type": "string",
    "enum": [str(category) for category in Category],
    "description": "a tax category code of EN 16931.",
}


def _entries(amount: str, *, least: int) -> dict[str, Any]:
    return {
        "type": "array",
        "minItems": least,
        "maxItems": _MOST_ENTRIES,
        "items": {
            "type": "object",
            "properties": {amount: _MONEY, "category": _CATEGORY, "rate": _RATE},
            "required": [amount, "category"],
            "additionalProperties": False,
        },
    }


_VERSIONS = {
    "type": "object",
    "description": "What rules and data the answer was reckoned with.",
    "additionalProperties": {"type": "string"},
}
_TOTAL_KEYS = {
    "line_total": "BT-106",
    "allowance_total": "BT-107",
    "charge_total": "BT-108",
    "tax_basis": "BT-109",
    "tax": "BT-110",
    "total": "BT-112",
    "prepaid": "BT-113",
    "rounding": "BT-114",
    "due": "BT-115",
}

TOTALS_IN: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "totals: an invoice's amounts",
    "type": "object",
    "properties": {
        "currency": _CURRENCY,
        "lines": _entries("net", least=1),
        "allowances": _entries("amount", least=0),
        "charges": _entries("amount", least=0),
        "prepaid": _MONEY,
        "rounding": _MONEY,
    },
    "required": ["currency", "lines"],
    "additionalProperties": False,
}
TOTALS_OUT: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "totals: EN 16931's document totals and tax groups (BG-23)",
    "type": "object",
    "properties": {
        **{key: {"type": "string", "title": bt} for key, bt in _TOTAL_KEYS.items()},
        "tax_groups": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    "category": _CATEGORY,
                    "rate": {"type": ["number", "null"], "title": "BT-119"},
                    "basis": {"type": "string", "title": "BT-116"},
                    "tax": {"type": "string", "title": "BT-117"},
                },
                "required": ["category", "basis", "tax"],
            },
        },
        "versions": _VERSIONS,
    },
    "required": [*_TOTAL_KEYS, "tax_groups", "versions"],
}
SPLIT_IN: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "split: an amount shared by weights, to the last minor unit",
    "type": "object",
    "properties": {
        "currency": _CURRENCY,
        "amount": _MONEY,
        "weights": {
            "type": "object",
            "minProperties": 1,
            "maxProperties": _MOST_ENTRIES,
            "additionalProperties": _WEIGHT,
        },
    },
    "required": ["currency", "amount", "weights"],
    "additionalProperties": False,
}
SPLIT_OUT: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "split: the shares, which add up to the amount",
    "type": "object",
    "properties": {
        "shares": {"type": "object", "additionalProperties": {"type": "string"}},
        "versions": _VERSIONS,
    },
    "required": ["shares", "versions"],
}


def _currency(document: Mapping[str, Any]) -> str:
    code: str = document["currency"]
    try:
        money.exponent(code)
    except money.BadAmount as fault:
        raise BadDocument("/currency", str(fault)) from fault
    return code


def _amount(text: str, currency: str, *path: str | int) -> Decimal:
    try:
        return money.read(text, currency)
    except money.BadAmount as fault:
        raise BadDocument(pointer(path), str(fault)) from fault


def _number(value: float | str, *path: str | int) -> Decimal:
    try:
        number = exact(value)
    except ValueError as fault:
        raise BadDocument(pointer(path), str(fault)) from fault
    # Bounds that keep the exact arithmetic small: 1e-400 is a number, but no rate.
    if number and not -20 <= number.adjusted() <= 20:
        raise BadDocument(pointer(path), "The number is too large or too small.")
    return number


def _entry(raw: Mapping[str, Any], key: str, currency: str, *path: str | int) -> Entry:
    category = Category(raw["category"])
    given = raw.get("rate")
    rate = None if given is None else _number(given, *path, "rate")
    try:
        tax.check_rate(category, rate)
    except tax.BadRate as fault:
        raise BadDocument(pointer((*path, "rate")), str(fault)) from fault
    return Entry(_amount(raw[key], currency, *path, key), category, rate)


def _plain(rate: Decimal) -> int | float:
    return int(rate) if rate == rate.to_integral_value() else float(rate)


def run_totals(document: dict[str, Any]) -> dict[str, Any]:
    """EN 16931's totals of a document that fits ``TOTALS_IN``. Raises BadDocument."""
    currency = _currency(document)
    entries = {
        part: [
            _entry(raw, key, currency, part, index)
            for index, raw in enumerate(document.get(part, []))
        ]
        for part, key in (
            ("lines", "net"),
            ("allowances", "amount"),
            ("charges", "amount"),
        )
    }
    found = tax.totals(
        **entries,
        prepaid=_amount(document.get("prepaid", "0"), currency, "prepaid"),
        rounding=_amount(document.get("rounding", "0"), currency, "rounding"),
        decimals=money.exponent(currency),
    )
    return {
        **{key: money.written(getattr(found, key), currency) for key in _TOTAL_KEYS},
        "tax_groups": [
            {
                "category": str(group.category),
                "rate": None if group.rate is None else _plain(group.rate),
                "basis": money.written(group.basis, currency),
                "tax": money.written(group.tax, currency),
            }
            for group in found.groups
        ],
        "versions": {"rules": tax.RULES, "currencies": CURRENCIES},
    }


def run_split(document: dict[str, Any]) -> dict[str, Any]:
    """The shares of a document that fits ``SPLIT_IN``. Raises BadDocument."""
    currency = _currency(document)
    amount = _amount(document["amount"], currency, "amount")
    weights = {
        key: _number(value, "weights", key)
        for key, value in document["weights"].items()
    }
    try:
        shares = split(amount, weights, decimals=money.exponent(currency))
    except BadWeights as fault:
        path = ("weights",) if fault.key is None else ("weights", fault.key)
        raise BadDocument(pointer(path), str(fault)) from fault
    return {
        "shares": {
            key: money.written(share, currency) for key, share in shares.items()
        },
        "versions": {"rules": "largest remainder", "currencies": CURRENCIES},
    }


RECKONINGS: dict[str, Reckoning] = {
    "totals": Reckoning(TOTALS_IN, TOTALS_OUT, run_totals),
    "split": Reckoning(SPLIT_IN, SPLIT_OUT, run_split),
}

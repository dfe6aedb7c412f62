"""SWIFT MT940 statements, by the ``mt-940`` library; one message an account. Pure."""

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import mt940
from stdnum import iban

from billing.bank.lines import BadStatement, Statement, StatementLine, words

_IN = {"C", "RD"}
"""Marks of money in: a credit, and a debit taken back."""

_FIRST_TAG = re.compile(r"^(?=:20:)", re.MULTILINE)


def read(data: bytes) -> list[Statement]:
    """The statements of a file, in order. Raises BadStatement."""
    text = _text(data)
    messages = [part for part in _FIRST_TAG.split(text) if part.startswith(":20:")]
    found = []
    for message in messages:
        try:
            told = mt940.parse(message)
        except Exception as fault:
            raise BadStatement(
                "The file is no sound MT940: fetch it from the bank again."
            ) from fault
        found.append(_statement(told))
    if not found:
        raise BadStatement("There is no MT940 statement in the file.")
    return _whole(found)


def _whole(pages: list[Statement]) -> list[Statement]:
    """Pages of one statement, one message each, put together: what follows has no
    opening balance of its own."""
    found: list[Statement] = []
    for page in pages:
        if found and page.opening is None and page.account == found[-1].account:
            before = found.pop()
            found.append(
                replace(before, lines=before.lines + page.lines, closing=page.closing)
            )
        else:
            found.append(page)
    return found


def _text(data: bytes) -> str:
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding).replace("\r\n", "\n")
        except UnicodeDecodeError:
            continue
    return data.decode("latin-1").replace("\r\n", "\n")


def _statement(told: Any) -> Statement:
    account = str(told.data.get("account_identification") or "")
    lines = tuple(_line(each.data, account) for each in told.transactions)
    opening, closing = (
        _balance(told.data, f"final_{name}_balance") for name in ("opening", "closing")
    )
    first = told.data.get("final_opening_balance")
    currency = str(first.amount.currency) if first else ""
    if not currency and lines:
        currency = lines[0].currency
    return Statement(account, currency, lines, opening=opening, closing=closing)


def _balance(data: Any, name: str) -> Decimal | None:
    balance = data.get(name)
    return None if balance is None else Decimal(balance.amount.amount)


def _line(data: Any, account: str) -> StatementLine:
    day = data.get("entry_date") or data.get("date")
    if day is None:
        raise BadStatement("An entry has no day of booking.")
    # The library's sign knows C and D, not that a reversed credit is money out.
    size = abs(Decimal(data["amount"].amount))
    reference = data.get("bank_reference") or ""
    customer = data.get("customer_reference") or ""
    account_of_payer, name = _apart(words(data.get("applicant_name")))
    return StatementLine(
        account=account,
        day=date(day.year, day.month, day.day),
        amount=size if data.get("status") in _IN else -size,
        currency=str(data["amount"].currency or data.get("currency") or ""),
        reference=reference,
        text=words(
            data.get("purpose"),
            data.get("end_to_end_reference"),
            "" if customer == "NONREF" else customer,
            data.get("additional_purpose"),
            data.get("transaction_details"),
            data.get("extra_details"),
        ),
        payer_name=name,
        payer_account=str(data.get("gvc_applicant_iban") or account_of_payer),
    )


def _apart(text: str) -> tuple[str, str]:
    """An IBAN that stands before the name without a blank, and the name."""
    for length in range(34, 14, -1):
        if iban.is_valid(text[:length]) and " " not in text[:length]:
            return text[:length], text[length:].strip()
    return "", text

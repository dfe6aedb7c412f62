"""OFX statements, as SGML (version 1) or XML (version 2). Pure.

Only what a list of movements needs is read: the account, its currency, and of each
transaction day, amount, the bank's identifier, name and memo. (OFX 1.6 and 2.2, 'Bank
statement download': STMTTRN; from memory.)
"""

import html
import re
from datetime import date
from decimal import Decimal, InvalidOperation

from billing.bank.lines import BadStatement, Statement, StatementLine, words

_PART = re.compile(r"<(CC)?STMTRS>(.*?)(?=</(?:CC)?STMTRS>|<(?:CC)?STMTRS>|\Z)", re.S)
_ENTRY = re.compile(r"<STMTTRN>(.*?)(?=</STMTTRN>|<STMTTRN>|</BANKTRANLIST>|\Z)", re.S)
_TEXT_OF = re.compile(r"<([A-Z0-9.]+)>([^<\r\n]*)")


def read(data: bytes) -> list[Statement]:
    """The statements of a file, in order. Raises BadStatement."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    if "<OFX>" not in text:
        raise BadStatement("There is no OFX statement in the file.")
    found = [_statement(part[2]) for part in _PART.finditer(text)]
    if not found:
        raise BadStatement("There is no statement in the file.")
    return found


def _fields(text: str) -> dict[str, str]:
    """The first text of each element."""
    fields: dict[str, str] = {}
    for name, value in _TEXT_OF.findall(text):
        if value.strip():
            fields.setdefault(name, html.unescape(value.strip()))
    return fields


def _statement(part: str) -> Statement:
    head = _fields(part.partition("<STMTTRN>")[0])
    account, currency = head.get("ACCTID", ""), head.get("CURDEF", "")
    lines = tuple(_line(entry[1], account, currency) for entry in _ENTRY.finditer(part))
    return Statement(account, currency, lines)


def _line(entry: str, account: str, currency: str) -> StatementLine:
    told = _fields(entry)
    posted = told.get("DTPOSTED", "")
    try:
        day = date(int(posted[:4]), int(posted[4:6]), int(posted[6:8]))
        amount = Decimal(told["TRNAMT"].replace(",", "."))
    except (KeyError, ValueError, InvalidOperation) as fault:
        raise BadStatement("A transaction has no day or amount.") from fault
    if not amount.is_finite():
        raise BadStatement("A transaction has no amount.")
    return StatementLine(
        account=account,
        day=day,
        amount=amount,
        currency=told.get("CURSYM", currency),
        reference=told.get("FITID", ""),
        text=words(told.get("MEMO"), told.get("REFNUM"), told.get("CHECKNUM")),
        payer_name=told.get("NAME", ""),
    )

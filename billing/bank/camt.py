"""ISO 20022 statements: camt.053 (end of day) and camt.054 (notification). Pure.

Any version of the two messages: element names are read without their namespace. Only
booked entries count. A collected entry is taken apart where its details add up to it.
No entities, no network, no document type.
"""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from lxml import etree

from billing.bank.lines import BadStatement, Statement, StatementLine, words

MOST_BYTES = 20_000_000
_PARTS = {"Stmt", "Ntfctn", "Rpt"}


def read(data: bytes) -> list[Statement]:
    """The statements of a file, in order. Raises BadStatement."""
    if len(data) > MOST_BYTES:
        raise BadStatement("The file is larger than 20 MB: ask the bank for less days.")
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False
    )
    try:
        root = etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as fault:
        raise BadStatement(
            "The file is no sound XML: fetch it from the bank again."
        ) from fault
    if root.getroottree().docinfo.doctype:
        raise BadStatement("A bank's statement has no document type: this is another.")
    found = [_statement(part) for part in root.iter() if _name(part) in _PARTS]
    if not found:
        raise BadStatement("There is no camt.053 or camt.054 statement in the file.")
    return found


def _name(element: Any) -> str:
    tag = element.tag
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


def _all(element: Any, path: str) -> list[Any]:
    found = [element]
    for step in path.split("/"):
        found = [child for each in found for child in each if _name(child) == step]
    return found


def _one(element: Any, *paths: str) -> str:
    """The text of the first path that has one."""
    for path in paths:
        for found in _all(element, path):
            text = (found.text or "").strip()
            if text:
                return str(text)
    return ""


def _amount(text: str) -> Decimal:
    try:
        amount = Decimal(text)
    except InvalidOperation as fault:
        raise BadStatement(f"{text[:20]!r} is no amount.") from fault
    if not amount.is_finite():
        raise BadStatement(f"{text[:20]!r} is no amount.")
    return amount


def _signed(element: Any, amount: Any) -> Decimal:
    size = _amount((amount.text or "").strip())
    return -size if _one(element, "CdtDbtInd") == "DBIT" else size


def _day(element: Any) -> date:
    text = _one(element, "BookgDt/Dt", "BookgDt/DtTm", "ValDt/Dt", "ValDt/DtTm")
    try:
        return date.fromisoformat(text[:10])
    except ValueError as fault:
        raise BadStatement("An entry has no day of booking.") from fault


def _statement(part: Any) -> Statement:
    account = _one(part, "Acct/Id/IBAN", "Acct/Id/Othr/Id")
    lines: list[StatementLine] = []
    for entry in _all(part, "Ntry"):
        if _one(entry, "Sts/Cd", "Sts") in {"", "BOOK"}:
            lines += _lines(entry, account)
    currency = lines[0].currency if lines else _one(part, "Acct/Ccy")
    return Statement(
        account,
        currency,
        tuple(lines),
        opening=_balance(part, ("OPBD", "PRCD"), currency),
        closing=_balance(part, ("CLBD",), currency),
    )


def _balance(part: Any, kinds: tuple[str, ...], currency: str) -> Decimal | None:
    for balance in _all(part, "Bal"):
        if _one(balance, "Tp/CdOrPrtry/Cd") in kinds:
            (amount,) = _all(balance, "Amt")[:1] or (None,)
            if amount is not None and amount.get("Ccy") == currency:
                return _signed(balance, amount)
    return None


def _lines(entry: Any, account: str) -> Iterator[StatementLine]:
    amounts = _all(entry, "Amt")
    if not amounts:
        raise BadStatement("An entry has no amount.")
    whole = _signed(entry, amounts[0])
    currency = amounts[0].get("Ccy", "")
    reference = _one(entry, "AcctSvcrRef", "NtryRef")
    details = _all(entry, "NtryDtls/TxDtls")
    parts = [_part(each, entry, currency) for each in details]
    is_apart = len(details) > 1 and None not in parts
    if is_apart and sum(part for part in parts if part is not None) == whole:
        for place, (each, part) in enumerate(zip(details, parts, strict=True), 1):
            assert part is not None
            own = _one(each, "Refs/AcctSvcrRef", "Refs/TxId", "Refs/EndToEndId")
            yield _line(
                [each],
                entry,
                account=account,
                amount=part,
                currency=currency,
                reference=own or f"{reference}/{place}",
            )
        return
    reference = reference or _one(entry, "NtryDtls/TxDtls/Refs/AcctSvcrRef")
    yield _line(
        details,
        entry,
        account=account,
        amount=whole,
        currency=currency,
        reference=reference,
    )


def _part(details: Any, entry: Any, currency: str) -> Decimal | None:
    """The signed amount of one transaction of an entry, if it is stated in the
    entry's currency."""
    found = _all(details, "AmtDtls/TxAmt/Amt") + _all(details, "Amt")
    same = [amount for amount in found if amount.get("Ccy") == currency]
    if not same:
        return None
    has_sign = bool(_one(details, "CdtDbtInd"))
    return _signed(details if has_sign else entry, same[0])


def _line(details: list[Any], entry: Any, **told: Any) -> StatementLine:
    side = "Dbtr" if told["amount"] >= 0 else "Cdtr"
    texts, name, number = [], "", ""
    for each in details:
        texts += [
            found.text
            for path in (
                "RmtInf/Strd/CdtrRefInf/Ref",
                "RmtInf/Ustrd",
                "RmtInf/Strd/AddtlRmtInf",
                "Refs/EndToEndId",
                "AddtlTxInf",
            )
            for found in _all(each, path)
            if found.text != "NOTPROVIDED"
        ]
        parties = "RltdPties"
        name = name or _one(
            each,
            f"{parties}/Ultmt{side}/Pty/Nm",
            f"{parties}/Ultmt{side}/Nm",
            f"{parties}/{side}/Pty/Nm",
            f"{parties}/{side}/Nm",
        )
        number = number or _one(
            each,
            f"{parties}/{side}Acct/Id/IBAN",
            f"{parties}/{side}Acct/Id/Othr/Id",
        )
    return StatementLine(
        day=_day(entry),
        text=words(*texts, _one(entry, "AddtlNtryInf")),
        payer_name=name,
        payer_account=number,
        **told,
    )

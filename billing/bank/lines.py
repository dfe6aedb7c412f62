"""One form of line for all formats of bank statements. Pure."""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal


class BadStatement(ValueError):
    """The file can't be read as a statement; the message says what mends it."""


@dataclass(frozen=True, slots=True)
class StatementLine:
    """One booked movement.

    account: the practice's own, as the bank writes it. amount: above 0 is money in.
    reference: the bank's own name for the movement. text: all that says what it is
    for. payer_name, payer_account: of the other side.
    """

    account: str
    day: date
    amount: Decimal
    currency: str
    reference: str = ""
    text: str = ""
    payer_name: str = ""
    payer_account: str = ""


@dataclass(frozen=True, slots=True)
class Statement:
    """The lines of one account in one file, with the balances that it states."""

    account: str
    currency: str
    lines: tuple[StatementLine, ...]
    opening: Decimal | None = None
    closing: Decimal | None = None

    @property
    def adds_up(self) -> bool | None:
        """Whether opening and lines make the closing balance; None where it isn't
        stated."""
        if self.opening is None or self.closing is None:
            return None
        moved = sum((line.amount for line in self.lines), Decimal(0))
        return self.opening + moved == self.closing


def words(*parts: str | None) -> str:
    """Texts on one line, each once, blanks squeezed."""
    told = [" ".join(part.split()) for part in parts if part and part.strip()]
    return " ".join(dict.fromkeys(told))


def keyed(lines: Iterable[StatementLine]) -> Iterator[tuple[str, StatementLine]]:
    """Each line with what makes it itself, however often and in whatever file it
    comes: account, day, amount, the bank's reference, and the how-manieth alike.

    Where the bank gives no reference, text and payer stand in for it, so that two
    clients who pay the same on one day are told apart.
    """
    seen: dict[tuple[str, ...], int] = {}
    for line in lines:
        bare = replace(line, account="".join(line.account.split()).upper())
        named = bare.reference or f"{bare.payer_name}|{bare.text}"
        alike = (
            bare.account,
            bare.day.isoformat(),
            f"{bare.amount.normalize():f}",
            bare.currency,
            named,
        )
        seen[alike] = seen.get(alike, 0) + 1
        told = "\x1f".join((*alike, str(seen[alike])))
        yield hashlib.sha256(told.encode()).hexdigest(), line

"""What money in pays: the documents that a line of the bank names or fits. Pure.

The order: an RF reference in any text (check digits proven), a document's number with
the payer, the open amount with a known payer, a payer alone. Only the first two are
posted by themselves, and only where the amount is not above what is open; the rest is
proposed to a person.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from billing.bank.lines import StatementLine
from billing.references import body_of, numbers_in, rf_bodies
from practice.names import likeness

LIKE = 86
"""Likeness of names (0 to 100, the order of the words left aside, since banks put the
surname first) from which two are held to be the same payer's: common practice, no
source."""


@dataclass(frozen=True, slots=True)
class OpenDocument:
    """An open invoice."""

    number: str
    client: int
    open: Decimal
    currency: str


@dataclass(frozen=True, slots=True)
class Payer:
    """A client, as banks may name them."""

    client: int
    name: str


@dataclass(frozen=True, slots=True)
class Match:
    """What a line is proposed to pay.

    found_by: ``rf``, ``number``, ``amount``, ``payer`` or '' for nothing. posts: sure
    enough to be posted by itself.
    """

    found_by: str = ""
    client: int | None = None
    numbers: tuple[str, ...] = ()
    posts: bool = False
    why: str = ""


class Matcher:
    """Looks lines up among the open documents."""

    def __init__(
        self,
        documents: Sequence[OpenDocument],
        payers: Sequence[Payer],
        accounts: Mapping[str, int],
    ) -> None:
        """
        Args:
            documents: open ones, the longest due first.
            accounts: bank account → client, from lines that were posted before.
        """
        self._documents = {document.number: document for document in documents}
        self._by_body = {body_of(number): number for number in self._documents}
        self._payers = payers
        self._accounts = {
            "".join(account.split()).upper(): client
            for account, client in accounts.items()
        }

    def match(self, line: StatementLine) -> Match:
        """What a line is proposed to pay; nothing for money out."""
        if line.amount <= 0:
            return Match(why="money out")
        texts = f"{line.text} {line.reference}"
        bodies = [body for body in rf_bodies(texts) if body in self._by_body]
        payer = self._payer_of(line)
        if bodies:
            numbers = [self._by_body[body] for body in bodies]
            return self._named(line, numbers, "rf", "RF reference", sure=True)
        numbers = numbers_in(texts, self._documents)
        if numbers:
            owner = self._documents[numbers[0]].client
            is_theirs = payer == owner
            why = "number and payer" if is_theirs else "number, from another payer"
            return self._named(line, numbers, "number", why, sure=is_theirs)
        return self._by_amount(line, payer)

    def _named(
        self,
        line: StatementLine,
        numbers: Sequence[str],
        found_by: str,
        why: str,
        *,
        sure: bool,
    ) -> Match:
        documents = [self._documents[number] for number in numbers]
        client = documents[0].client
        theirs = [each for each in documents if each.client == client]
        still_open = sum((each.open for each in theirs), Decimal(0))
        is_one = len(theirs) == len(documents)
        same = all(each.currency == line.currency for each in theirs)
        posts = sure and is_one and same and line.amount <= still_open
        if not same:
            why = f"{why}; in another currency"
        elif not is_one:
            why = f"{why}; of several clients"
        elif line.amount > still_open:
            why = f"{why}; more than is open"
        return Match(
            found_by, client, tuple(each.number for each in theirs), posts, why
        )

    def _by_amount(self, line: StatementLine, payer: int | None) -> Match:
        if payer is None:
            return Match(why="nobody known")
        theirs = [each for each in self._documents.values() if each.client == payer]
        fitting = [
            each
            for each in theirs
            if each.open == line.amount and each.currency == line.currency
        ]
        if len(fitting) == 1:
            why = "open amount and known payer"
            return Match("amount", payer, (fitting[0].number,), why=why)
        if theirs and sum((each.open for each in theirs), Decimal(0)) == line.amount:
            numbers = tuple(each.number for each in theirs)
            return Match("amount", payer, numbers, why="all that is open, known payer")
        return Match("payer", payer, why="known payer")

    def _payer_of(self, line: StatementLine) -> int | None:
        """The client whom the line comes from: by an account seen before, else by
        name, if one alone is like it."""
        account = "".join(line.payer_account.split()).upper()
        if account and account in self._accounts:
            return self._accounts[account]
        if not line.payer_name.strip():
            return None
        alike = {
            payer.client
            for payer in self._payers
            if likeness(payer.name, line.payer_name) >= LIKE
        }
        return alike.pop() if len(alike) == 1 else None

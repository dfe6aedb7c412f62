"""Bank statements brought in: each line once, what is sure posted, the rest proposed.

Bringing the same file again, or one whose days overlap, changes nothing: a line is
known by its key. Taking an import back reverses its payments and frees its lines, so
that the file can be brought again.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from billing import money
from billing.bank import ofx, sheet
from billing.bank.lines import BadStatement, Statement, StatementLine, keyed
from billing.bank.matching import Match, Matcher, OpenDocument, Payer
from billing.models import BankImport, BankLine, Invoice, Payment, StatementColumns
from billing.services.ledger import exact, lock_client, lock_clients
from billing.services.payments import MOST, record_payment, reverse_payment
from practice.errors import Refused
from practice.keys import uuid7
from practice.models import Client, Practice, User
from practice.services.changes import note_change

State = BankLine.State
MOST_LINES = 5_000


class ColumnsWanted(Exception):
    """A sheet whose columns nobody has explained yet."""

    def __init__(self, found: sheet.Sheet) -> None:
        super().__init__("columns")
        self.found = found


@dataclass(frozen=True, slots=True)
class Brought:
    """What bringing a file in came to."""

    made: BankImport
    new: int
    known: int
    posted: int
    faults: Sequence[sheet.Fault] = ()


def bring_in(*, name: str, data: bytes, by: User | None) -> Brought:
    """Reads a file of the bank and keeps its lines; posts those that are sure.

    Raises:
        Refused: the file can't be read.
        ColumnsWanted: a CSV whose columns are not known yet; see ``explain_columns``.
    """
    practice = Practice.objects.the_one()
    try:
        format_, statements, faults = _read(data, practice)
    except BadStatement as fault:
        raise Refused(str(fault), field="file") from fault
    lines = [line for one in statements for line in one.lines]
    if len(lines) > MOST_LINES:
        raise Refused("More than 5,000 lines: bring it in by the month.", field="file")
    if not lines and not faults:
        raise Refused("There is no booked movement in the file.", field="file")
    for line in lines:
        _check_amount(line)
    return _keep(name, data, format_, lines, faults, by)


def _check_amount(line: StatementLine) -> None:
    """Refuses an amount that no bank books: too many digits or decimals."""
    decimals = money.EXPONENTS.get(line.currency, 3)
    is_fine = money.rounded(line.amount, decimals) == line.amount
    if abs(line.amount) >= MOST or not is_fine:
        raise Refused(
            f"The movement of {line.day} is over {str(line.amount)[:20]} "
            f"{line.currency[:3]}, which can't be: fetch the file from the bank again.",
            field="file",
        )


def explain_columns(
    *, found: sheet.Sheet, columns: dict[str, int], account: str
) -> StatementColumns:
    """Remembers what the columns of a bank's CSV mean, by its heading.

    Raises Refused unless day and amount are among them.
    """
    try:
        sheet.check_columns(columns)
    except BadStatement as fault:
        raise Refused(str(fault), field="columns") from fault
    row, _ = StatementColumns.objects.update_or_create(
        heading_sha256=found.heading_sha256,
        defaults={"columns": columns, "account": account.strip()[:40]},
    )
    return row


def _read(
    data: bytes, practice: Practice
) -> tuple[str, list[Statement], list[sheet.Fault]]:
    start = data[:4096].lstrip(b"\xef\xbb\xbf \r\n\t")
    if b"<OFX>" in data[:65536] or start.startswith(b"OFXHEADER"):
        return "ofx", ofx.read(data), []
    if start.startswith(b"<"):
        from billing.bank import camt  # brings lxml, for a file a week

        return "camt", camt.read(data), []
    if b":20:" in start and b":25:" in start:
        from billing.bank import mt940

        return "mt940", mt940.read(data), []
    found = sheet.open_sheet(data)
    known = StatementColumns.objects.filter(heading_sha256=found.heading_sha256).first()
    if known is None:
        raise ColumnsWanted(found)
    statement, faults = sheet.read(
        found,
        known.columns,
        account=known.account,
        currency=practice.currency,
        decimals=money.exponent(practice.currency),
        country=practice.country,
    )
    return "csv", [statement], faults


@transaction.atomic
def _keep(
    name: str,
    data: bytes,
    format_: str,
    lines: Sequence[StatementLine],
    faults: Sequence[sheet.Fault],
    by: User | None,
) -> Brought:
    # One import at a time: two of the same file would both hold all lines for new.
    Practice.objects.select_for_update(no_key=True).get(pk=1)
    told = dict(keyed(lines))
    known = set(
        BankLine.objects.filter(key__in=told)
        .exclude(state=State.UNDONE)
        .values_list("key", flat=True)
    )
    made = BankImport.objects.create(
        name=name[-120:] or "statement",
        sha256=hashlib.sha256(data).hexdigest(),
        format=format_,
        known=len(known),
        by=by,
    )
    matcher = matcher_now()
    rows = [
        _row(made, key, line, matcher.match(line))
        for key, line in told.items()
        if key not in known
    ]
    # Clients are locked before any of their invoices, all at once and in order.
    lock_clients([row.client_id for row, posts in rows if posts and row.client_id])
    posted = 0
    for row, posts in rows:
        row.save()
        if posts and _post_if_still_sure(row, by):
            posted += 1
    note_change(
        by=by,
        obj=made,
        action="brought in",
        after={"lines": len(rows), "known": len(known), "posted": posted},
    )
    return Brought(made, len(rows), len(known), posted, tuple(faults))


def matcher_now() -> Matcher:
    """What is open now, who the clients are, and the accounts they paid from."""
    documents: Any = Invoice.objects.all().open().order_by("due_day", "number")
    seen = BankLine.objects.filter(state=State.POSTED).exclude(payer_account="")
    return Matcher(
        [
            OpenDocument(str(number), client, exact(amount, currency), currency)
            for number, client, amount, currency in documents.values_list(
                "number", "client", "open_amount", "currency"
            )
        ],
        [
            Payer(key, name)
            for key, name in Client.objects.active().values_list("pk", "name")
        ],
        dict(seen.order_by("pk").values_list("payer_account", "client")),
    )


def _row(
    made: BankImport, key: str, line: StatementLine, match: Match
) -> tuple[BankLine, bool]:
    row = BankLine(
        brought_by=made,
        key=key,
        account=line.account[:40],
        day=line.day,
        amount=line.amount,
        currency=line.currency[:3],
        reference=line.reference[:80],
        text=line.text[:2000],
        payer_name=line.payer_name[:140],
        payer_account=line.payer_account[:40],
        state=State.WAITING if line.amount > 0 else State.IGNORED,
        found_by=match.found_by,
        why=match.why[:200],
        client_id=match.client,
        numbers=list(match.numbers),
    )
    return row, match.posts


def _post_if_still_sure(row: BankLine, by: User | None) -> bool:
    """Posts a sure line unless an earlier one of the file has paid what it names: then
    a person looks at it."""
    wanted: Any = _documents(row)
    left = sum((exact(each.open_amount, each.currency) for each in wanted), start=0)
    if row.amount > left:
        row.why = f"{row.why}; more than is open by now"[:200]
        row.save(update_fields=["why", "changed_at"])
        return False
    _post(row, wanted, by)
    return True


def _documents(row: BankLine) -> list[Invoice]:
    rows = Invoice.objects.filter(number__in=row.numbers, client=row.client_id)
    found = {each.number: each for each in rows.with_balance()}
    return [found[number] for number in row.numbers if number in found]


def _post(row: BankLine, invoices: Sequence[Invoice], by: User | None) -> Payment:
    assert row.client is not None
    payment = record_payment(
        key=uuid7(),
        client=row.client,
        amount=row.amount,
        method=Payment.Method.TRANSFER,
        day=row.day,
        by=by,
        invoices=invoices,
        reference=(row.text or row.reference)[:80],
    )
    row.payment = payment
    row.state = State.POSTED
    row.save(update_fields=["payment", "state", "client", "changed_at"])
    return payment


# ---- What a person decides ------------------------------------------------------------
def _locked(line: BankLine) -> BankLine:
    return BankLine.objects.select_for_update(of=("self",)).get(pk=line.pk)


@transaction.atomic
def post_line(
    *,
    line: BankLine,
    client: Client,
    by: User | None,
    invoices: Sequence[Invoice] = (),
) -> Payment:
    """Posts a line as a client's payment: for these invoices, else for what its text
    names or is due longest. Safe to repeat.

    Raises Refused for money out, another currency, or a line that was taken back.
    """
    lock_client(client.pk)
    row = _locked(line)
    if row.payment is not None and row.state == State.POSTED:
        return row.payment
    if row.state == State.UNDONE:
        raise Refused("This line was taken back with its import: bring it in anew.")
    if row.amount <= 0:
        raise Refused("Money out pays no invoice.")
    practice = Practice.objects.the_one()
    if row.currency != practice.currency:
        raise Refused(
            f"This came in {row.currency}, and the books are in {practice.currency}: "
            "record what the bank made of it by hand."
        )
    row.client = client
    return _post(row, invoices, by)


@transaction.atomic
def set_aside(*, line: BankLine, by: User | None) -> None:
    """Leaves a line out: it is no client's payment. Safe to repeat.

    Raises Refused for a posted one.
    """
    row = _locked(line)
    if row.state == State.POSTED:
        raise Refused("It is posted: take the payment back first.")
    if row.state == State.WAITING:
        row.state = State.IGNORED
        row.save(update_fields=["state", "changed_at"])
        note_change(by=by, obj=row, action="left out")


@transaction.atomic
def take_back(*, made: BankImport, by: User | None) -> int:
    """Takes an import back: its payments are reversed, its lines freed. Returns how
    many payments were reversed; a second call does nothing.

    Raises Refused if a part of one of its payments was paid back.
    """
    Practice.objects.select_for_update(no_key=True).get(pk=1)
    made = BankImport.objects.select_for_update(of=("self",)).get(pk=made.pk)
    if made.undone_at is not None:
        return 0
    clients = made.lines.filter(state=State.POSTED).values_list("client", flat=True)
    lock_clients([client for client in clients if client])
    rows = list(made.lines.select_for_update(of=("self",)).order_by("pk"))
    practice = Practice.objects.the_one()
    today = timezone.localdate(timezone=practice.zone)
    reversed_ = 0
    made.lines.update(state=State.UNDONE, changed_at=timezone.now())
    for row in rows:
        if row.state == State.POSTED and row.payment is not None:
            reverse_payment(
                payment=row.payment,
                by=by,
                today=today,
                reason=f"import of {made.name} taken back",
            )
            reversed_ += 1
    made.undone_at = timezone.now()
    made.save(update_fields=["undone_at", "changed_at"])
    note_change(by=by, obj=made, action="taken back", after={"payments": reversed_})
    return reversed_

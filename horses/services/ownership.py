"""Owners and payers of a horse: the only writer of ``Ownership`` and ``Payer``.

Held for every horse: on each day from the first start the shares add up to exactly
100, and no client has two ownerships on one day; no horse has two payers on one day.
"""

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from horses.models import Horse, Ownership, Payer
from horses.shares import check_whole
from practice.errors import Refused
from practice.models import Client, User
from practice.services.changes import note_change

ONE_DAY = timedelta(days=1)


@transaction.atomic
def set_owners(
    *,
    horse: Horse,
    shares: Mapping[Client, Decimal],
    starts: date,
    by: User | None,
    replace_later: bool = False,
) -> list[Ownership]:
    """From ``starts`` on, these clients own the horse by these shares.

    Whoever owned it before does so until the day before. A client whose share stays
    the same goes on with the one unbroken period. Saying the same again changes
    nothing; saying something else for the same day mends what was said.

    Args:
        shares: percent by client, adding up to exactly 100.
        replace_later: drop changes of owners that are entered for later days.

    Returns:
        the ownerships from ``starts`` on, largest share first.

    Raises:
        Refused: the shares don't make one horse, or a later change stands.
    """
    check_shares(shares)
    _lock(horse)
    rows = list(
        Ownership.objects.filter(horse=horse).select_related("client").order_by("pk")
    )
    before = _told(rows)
    later = [row for row in rows if row.starts > starts]
    if later and not replace_later:
        raise _later_stands("change of owners", min(row.starts for row in later))
    goes_on = {
        row.client_id: row
        for row in rows
        if row.starts <= starts
        and (row.ends is None or row.ends >= starts)
        and shares.get(row.client) == row.share
    }
    kept = {row.pk for row in goes_on.values()}
    _end_before(starts, [row for row in rows if row.pk not in kept])
    for row in goes_on.values():
        _save_end(row, None)
    Ownership.objects.bulk_create(
        Ownership(horse=horse, client=client, share=share, starts=starts)
        for client, share in shares.items()
        if client.pk not in goes_on
    )
    now = list(
        Ownership.objects.filter(horse=horse).select_related("client").order_by("pk")
    )
    after = _told(now)
    if after != before:
        note_change(
            by=by,
            obj=horse,
            action="set owners",
            before={"owners": before},
            after={"owners": after},
        )
    holding = [row for row in now if row.ends is None]
    return sorted(holding, key=lambda row: (-row.share, row.client.name, row.pk))


def check_shares(shares: Mapping[Client, Decimal]) -> None:
    """That these shares make one whole horse.

    Raises:
        Refused: with field ``shares``.
    """
    try:
        check_whole(list(shares.values()))
    except Refused as refusal:
        raise Refused(refusal.sentence, field="shares") from refusal


@transaction.atomic
def set_payer(
    *,
    horse: Horse,
    client: Client,
    starts: date,
    by: User | None,
    replace_later: bool = False,
) -> Payer:
    """From ``starts`` on, this client is billed for the horse instead of its owners.

    Saying the same again changes nothing; another client for the same day mends it.

    Raises:
        Refused: a payer is entered for a later day, and ``replace_later`` is not set.
    """
    _lock(horse)
    rows = _payers(horse)
    before = _told(rows)
    later = [row for row in rows if row.starts > starts]
    if later and not replace_later:
        raise _later_stands("payer", min(row.starts for row in later))
    same = [row for row in rows if _holds(row, starts) and row.client_id == client.pk]
    if same:
        payer = same[0]
        _end_before(starts, [row for row in rows if row.pk != payer.pk])
        _save_end(payer, None)
    else:
        _end_before(starts, rows)
        payer = Payer.objects.create(horse=horse, client=client, starts=starts)
    _note_payers(horse, before, by)
    return payer


@transaction.atomic
def end_payer(
    *, horse: Horse, last_day: date, by: User | None, replace_later: bool = False
) -> None:
    """After ``last_day`` the owners pay by share again. Harmless to repeat.

    Raises:
        Refused: a payer is entered for a later day, and ``replace_later`` is not set.
    """
    _lock(horse)
    rows = _payers(horse)
    before = _told(rows)
    # One that starts the very next day is the period meant, never begun.
    later = [row for row in rows if row.starts > last_day + ONE_DAY]
    if later and not replace_later:
        raise _later_stands("payer", min(row.starts for row in later))
    _end_before(last_day + ONE_DAY, rows)
    _note_payers(horse, before, by)


def _lock(horse: Horse) -> None:
    """Two changes of one horse wait for each other (SQLite locks the whole file)."""
    Horse.objects.select_for_update().only("pk").get(pk=horse.pk)


def _payers(horse: Horse) -> list[Payer]:
    return list(
        Payer.objects.filter(horse=horse).select_related("client").order_by("pk")
    )


def _holds(row: Ownership | Payer, day: date) -> bool:
    return row.starts <= day and (row.ends is None or row.ends >= day)


def _end_before(day: date, rows: Iterable[Ownership | Payer]) -> None:
    """No row of these reaches ``day``: it ends the day before, or never was."""
    for row in rows:
        if row.starts >= day:
            row.delete()
        elif row.ends is None or row.ends >= day:
            _save_end(row, day - ONE_DAY)


def _save_end(row: Ownership | Payer, ends: date | None) -> None:
    if row.ends != ends:
        row.ends = ends
        row.save(update_fields=["ends", "changed_at"])


def _later_stands(what: str, day: date) -> Refused:
    return Refused(
        f"A {what} is already entered from {day.day} {day:%B %Y}. Choose that day or "
        "a later one, or tick that this replaces what is entered for later days.",
        field="starts",
    )


def _told(rows: Iterable[Ownership | Payer]) -> list[dict[str, Any]]:
    """The rows as the audit trail keeps them, by day."""
    told = [
        {
            "client": row.client_id,
            "name": row.client.name,
            **({"share": f"{row.share:.4f}"} if isinstance(row, Ownership) else {}),
            "starts": row.starts.isoformat(),
            "ends": row.ends.isoformat() if row.ends else None,
        }
        for row in rows
    ]
    return sorted(told, key=lambda row: (row["starts"], row["client"]))


def _note_payers(horse: Horse, before: list[dict[str, Any]], by: User | None) -> None:
    after = _told(_payers(horse))
    if after != before:
        note_change(
            by=by,
            obj=horse,
            action="set payer",
            before={"payers": before},
            after={"payers": after},
        )


def give_first_owners(*, pairs: Iterable[tuple[Horse, Client, date]]) -> None:
    """New horses get their first owner, each the whole of it from a day on.

    Many in one write, in the caller's transaction, which made the horses and notes
    the change; a horse that has had an owner goes through ``set_owners``.
    """
    Ownership.objects.bulk_create(
        (
            Ownership(horse=horse, client=client, share=Decimal(100), starts=starts)
            for horse, client, starts in pairs
        ),
        batch_size=500,
    )

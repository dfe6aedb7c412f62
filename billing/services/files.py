"""Files of the books, made by the worker: asked for on a page, kept for some days.

A file is written beside its place and put there whole before its row says that it is
made, so that a worker that dies in the middle leaves nothing that could be taken for
it; the next one begins anew. It can be made again at any time: nothing here is backed
up.
"""

import contextlib
import hashlib
import os
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone

from billing.models import Invoice, LedgerEntry, MadeFile
from billing.selectors.books import Period
from billing.services.archive import Step, write_month, write_year
from practice import outbox
from practice.errors import Refused
from practice.models import Message, User
from practice.pdf import PdfUnavailable

KEPT_DAYS = 7
"""So long a file is kept; asked for again, it is made again."""
_MOST_ROUNDS = 3


class _Lost(Exception):
    """Another worker has taken the job over."""


def _job_key(row: MadeFile) -> str:
    return f"books_file:{row.pk}"


def path_of(row: MadeFile) -> Path:
    """Where a made file lies."""
    return Path(settings.MADE_ROOT) / f"{row.pk}{Path(row.name).suffix}"


def period_of(row: MadeFile) -> Period:
    """The days of its month or year."""
    if row.kind == MadeFile.Kind.YEAR:
        return Period(row.first, date(row.first.year, 12, 31))
    following = (row.first + timedelta(days=32)).replace(day=1)
    return Period(row.first, following - timedelta(days=1))


# ---- Asked for ------------------------------------------------------------------------
@transaction.atomic
def ask_for(*, kind: str, first: date, by: User | None) -> MadeFile:
    """Has a file made. While it is under way, asking again gives the same.

    Raises Refused if nothing was issued in that month or year.
    """
    going = MadeFile.objects.filter(kind=kind, first=first, ended_at__isnull=True)
    there = going.select_for_update().first()
    if there is not None and is_making(there):
        return there
    row = MadeFile(kind=kind, first=first, by=by)
    period = period_of(row)
    issued = Invoice.objects.issued().filter(
        issue_day__gte=period.first, issue_day__lte=period.last
    )
    if not issued.exists():
        raise Refused("Nothing was issued in that time.")
    if there is not None:
        _end(there, refused="It was given up.")
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:  # asked for at the same moment
        return going.get()
    outbox.queue_job(
        kind="make_books_file", payload={"file": str(row.pk)}, key=_job_key(row)
    )
    return row


def is_making(row: MadeFile) -> bool:
    """Whether it is under way: asked for, and its job not given up."""
    if row.ended_at is not None:
        return False
    return Message.objects.filter(
        key=_job_key(row), state__in=[Message.State.READY, Message.State.CLAIMED]
    ).exists()


# ---- Made -----------------------------------------------------------------------------
def make_job(*, file: str, alive: Callable[[], bool]) -> None:
    """The outbox's long job: makes the file, or says on its row why it can't be."""
    row = MadeFile.objects.filter(pk=file, ended_at__isnull=True).first()
    if row is None:
        return
    with contextlib.suppress(_Lost):
        try:
            _make(row, alive)
        except (Refused, PdfUnavailable) as refusal:
            with transaction.atomic():
                if alive():
                    _end(row, refused=str(refusal)[:300])


def _make(row: MadeFile, alive: Callable[[], bool]) -> None:
    target = path_of(row)
    with _beside(target) as part:
        _write(row, part, _stepper(row, alive))
        with part.open("rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        row.size, row.sha256 = part.stat().st_size, sha256
        if not alive():
            raise _Lost
        part.replace(target)
    with transaction.atomic():
        if not alive():
            raise _Lost
        _end(row)


@contextlib.contextmanager
def _beside(target: Path) -> Iterator[Path]:
    """A file beside its place, gone unless it was put there."""
    target.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=target.parent, suffix=".part")
    os.close(handle)
    try:
        yield Path(name)
    finally:
        Path(name).unlink(missing_ok=True)


def _write(row: MadeFile, part: Path, step: Step) -> None:
    """Writes it until nothing was booked meanwhile, so that its tables agree with each
    other and with the documents."""
    period = period_of(row)
    for _ in range(_MOST_ROUNDS):
        before = _booked(period)
        with part.open("wb") as out:
            if row.kind == MadeFile.Kind.YEAR:
                write_year(row.first.year, out, step=step)
            else:
                write_month(period, out, step=step)
            out.flush()
            os.fsync(out.fileno())
        if _booked(period) == before:
            return
    raise Refused("The books were busy all the time: ask again in a quiet minute.")


def _booked(period: Period) -> tuple[int, int]:
    """What moves when something is issued or booked."""
    last = LedgerEntry.objects.aggregate(last=Max("pk"))["last"]
    issued = Invoice.objects.issued().filter(
        issue_day__gte=period.first, issue_day__lte=period.last
    )
    return last or 0, issued.count()


def _stepper(row: MadeFile, alive: Callable[[], bool]) -> Step:
    """Notes about once a second how far it is, and stops a worker that lost the job."""
    last = 0.0

    def step(at: int, count: int) -> None:
        nonlocal last
        if time.monotonic() - last < 1:
            return
        last = time.monotonic()
        if not alive():
            raise _Lost
        MadeFile.objects.filter(pk=row.pk).update(
            at=at, count=count, changed_at=timezone.now()
        )

    return step


def _end(row: MadeFile, *, refused: str = "") -> None:
    row.refused, row.ended_at = refused, timezone.now()
    row.save(update_fields=["refused", "ended_at", "size", "sha256", "changed_at"])


# ---- Tidied ----------------------------------------------------------------------------
def tidy_job(**_: object) -> None:
    """The nightly job: drops old files with their rows, and what dead workers left."""
    now = timezone.now()
    MadeFile.objects.filter(created_at__lt=now - timedelta(days=KEPT_DAYS)).delete()
    kept = {path_of(row).name for row in MadeFile.objects.all()}
    root = Path(settings.MADE_ROOT)
    day_ago = now.timestamp() - 86_400
    for path in root.iterdir() if root.is_dir() else ():
        if path.name not in kept and path.stat().st_mtime < day_ago:
            path.unlink(missing_ok=True)

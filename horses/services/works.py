"""Kinds of work and the minutes that they take."""

from typing import TypedDict, Unpack
from uuid import UUID

from django.db import transaction

from horses.models import Work
from practice.errors import Refused
from practice.models import User
from practice.services.changes import note_change
from practice.services.once import made_once

#: Minutes a horse to begin with, for each practice to change. Working times that
#: farriers give lie in wide ranges (trim 15–30, full set 45 minutes to two hours by
#: one newspaper's and two trade pages' figures); these lie within: common practice.
PROPOSED: tuple[tuple[str, str, int], ...] = (
    ("Trim", Work.Kind.TRIM, 20),
    ("Front shoes", Work.Kind.NEW_SHOES, 35),
    ("Full set", Work.Kind.NEW_SHOES, 60),
    ("Full set, hot", Work.Kind.NEW_SHOES, 70),
    ("Reset", Work.Kind.RESET, 50),
    ("Bar shoes, pair", Work.Kind.NEW_SHOES, 80),
    ("Remedial work", Work.Kind.OTHER, 120),
    ("Pull shoes", Work.Kind.PULL, 15),
    ("Lost shoe", Work.Kind.RESET, 20),
    ("Check", Work.Kind.CHECK, 10),
    ("No-show", Work.Kind.NO_SHOW, 0),
    ("Late call-off", Work.Kind.LATE_CALL_OFF, 0),
)


class WorkFields(TypedDict, total=False):
    """What can be said of a kind of work."""

    name: str
    kind: str
    minutes: int
    is_active: bool


@transaction.atomic
def propose_works() -> list[Work]:
    """The kinds of work that a new practice begins with. One that has any keeps its
    own: nothing is added.

    Returns:
        all works, in their order.
    """
    if not Work.objects.exists():
        Work.objects.bulk_create(
            Work(name=name, kind=kind, minutes=minutes, position=10 * place)
            for place, (name, kind, minutes) in enumerate(PROPOSED, start=1)
        )
    return list(Work.objects.all())


@transaction.atomic
def create_work(
    *, by: User | None, key: UUID | None = None, **fields: Unpack[WorkFields]
) -> Work:
    """Adds a kind of work, last in the order.

    Raises:
        Refused: the name is taken, or minutes out of bounds.
    """

    def make() -> Work:
        _check(Work(), fields)
        last = Work.objects.order_by("-position").first()
        work = Work(**fields, position=(last.position if last else 0) + 10)
        work.save()
        note_change(by=by, obj=work, action="create work", after={**fields})
        return work

    return made_once(key=key, model=Work, said=fields, make=make)


@transaction.atomic
def change_work(*, work: Work, by: User | None, **fields: Unpack[WorkFields]) -> Work:
    """Changes a kind of work. One that is no longer done is set inactive, since
    records name it.

    Raises:
        Refused: the name is taken, or minutes out of bounds.
    """
    row = Work.objects.select_for_update().get(pk=work.pk)
    _check(row, fields)
    changed = [name for name, value in fields.items() if getattr(row, name) != value]
    if not changed:
        return row
    before = {name: getattr(row, name) for name in changed}
    for name in changed:
        setattr(row, name, dict(fields)[name])
    row.save(update_fields=[*changed, "changed_at"])
    after = {name: getattr(row, name) for name in changed}
    note_change(by=by, obj=row, action="change work", before=before, after=after)
    return row


def _check(row: Work, fields: WorkFields) -> None:
    name = fields.get("name", row.name).strip()
    if not name:
        raise Refused("Give the work a name.", field="name")
    if Work.objects.filter(name__iexact=name).exclude(pk=row.pk).exists():
        raise Refused(f"There is a work named {name} already.", field="name")
    if fields.get("kind", row.kind) not in Work.Kind.values:
        raise Refused("Choose what kind of work it is.", field="kind")
    if not 0 <= fields.get("minutes", row.minutes or 0) <= 480:
        raise Refused("Give the minutes a horse takes, 0 to 480.", field="minutes")

"""How limbs are built: recorded, amended openly, ended; and what a farrier makes of
considerations. The only writer of ``Conformation`` and ``ConsiderationChoice``.
"""

from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction

from horses.conformation import Built, clash, fault
from horses.considerations.weighing import BY_CODE
from horses.models import Conformation, ConsiderationChoice, Horse, VisitRecord
from horses.selectors.limbs import built_of
from practice.errors import Refused
from practice.models import User
from practice.services.changes import note_change

_SAID = ("kind", "place", "direction", "grade", "note", "seen_on")


def _document(row: Conformation) -> dict[str, Any]:
    return {
        name: str(getattr(row, name))
        for name in ("limb", *_SAID, "ended_on", "ended_note")
    }


def _check(said: Built, seen_on: date, *, horse: Horse, but: UUID, today: date) -> None:
    if wrong := fault(said):
        raise Refused(wrong[1], field=wrong[0])
    if seen_on > today:
        raise Refused("It can't have been seen in the future.", field="seen_on")
    standing = Conformation.objects.standing().filter(horse=horse, limb=said.limb)
    others = [built_of(row) for row in standing.exclude(pk=but)]
    if reason := clash(said, others):
        raise Refused(reason, field="trait")


@transaction.atomic
def record_conformation(
    *, key: UUID, horse: Horse, said: Built, seen_on: date, by: User, today: date
) -> Conformation:
    """Notes one trait of one limb; it is carried to every visit from its day on.

    Args:
        key: UUIDv7 made by the maker: the same key is the same row.

    Raises:
        Refused: the role may not, it can't be, or it stands there already.
    """
    if not by.treats:
        raise Refused("Farriers and apprentices note how a limb is built.")
    Horse.objects.select_for_update().get(pk=horse.pk)
    there = Conformation.objects.filter(pk=key).first()
    if there is not None:
        if there.horse_id != horse.pk or there.limb != said.limb:
            raise Refused("This key belongs to another limb.", field="key")
        return there
    _check(said, seen_on, horse=horse, but=key, today=today)
    row = Conformation.objects.create(
        pk=key,
        horse=horse,
        limb=said.limb,
        kind=said.kind,
        place=said.place,
        direction=said.direction,
        grade=said.grade,
        note=said.note,
        seen_on=seen_on,
        seen_by=by,
    )
    note_change(by=by, obj=row, action="note conformation", after=_document(row))
    return row


@transaction.atomic
def amend_conformation(
    *,
    row: Conformation,
    said: Built,
    seen_on: date,
    reason: str,
    by: User,
    today: date,
) -> Conformation:
    """Mends what was written wrong; the old values stay in the audit trail. What has
    truly changed on the horse is ended, and noted anew.

    Raises:
        Refused: not by a farrier, without a reason, ended already, or it can't be.
    """
    if not by.is_farrier:
        raise Refused("A farrier amends how a limb is built.")
    if not reason.strip():
        raise Refused("Say why it is amended.", field="reason")
    Horse.objects.select_for_update().get(pk=row.horse_id)
    now = Conformation.objects.select_for_update().get(pk=row.pk)
    if now.ended_on is not None:
        raise Refused("This has ended: note it anew if it is so again.")
    if said.limb != now.limb:
        raise Refused("It belongs to another limb.", field="trait")
    new = {name: getattr(said, name) for name in _SAID if name != "seen_on"}
    new["seen_on"] = seen_on
    if all(getattr(now, name) == value for name, value in new.items()):
        return now
    _check(said, seen_on, horse=now.horse, but=now.pk, today=today)
    before = _document(now)
    for name, value in new.items():
        setattr(now, name, value)
    now.save(update_fields=[*new, "changed_at"])
    note_change(
        by=by,
        obj=now,
        action="amend conformation",
        before=before,
        after=_document(now),
        reason=reason.strip()[:300],
    )
    return now


@transaction.atomic
def end_conformation(
    *, row: Conformation, day: date, note: str, by: User, today: date
) -> Conformation:
    """From ``day`` on it is no longer so; it stays in the horse's history.

    Raises:
        Refused: not by a farrier, or a day before it was seen or still to come.
    """
    if not by.is_farrier:
        raise Refused("A farrier ends what was noted of a limb.")
    now = Conformation.objects.select_for_update().get(pk=row.pk)
    if now.ended_on is not None:
        return now
    if day > today:
        raise Refused("Give today or a day before.", field="ended_on")
    if day < now.seen_on:
        raise Refused("It was first seen after that day.", field="ended_on")
    now.ended_on, now.ended_note = day, note.strip()[:300]
    now.save(update_fields=["ended_on", "ended_note", "changed_at"])
    note_change(by=by, obj=now, action="end conformation", after=_document(now))
    return now


@transaction.atomic
def consider(
    *, record: VisitRecord, code: str, answer: str, note: str = "", by: User
) -> ConsiderationChoice | None:
    """Takes a consideration up, sets it aside, or (answer empty) ignores it again.
    Nothing else is changed by it; saying the same twice is one answer.

    Raises:
        Refused: not by a farrier, or words that aren't known.
    """
    if not by.is_farrier:
        raise Refused("A farrier weighs considerations.")
    if code not in BY_CODE:
        raise Refused("There is no such consideration.", field="code")
    if answer and answer not in ConsiderationChoice.Answer.values:
        raise Refused("Accept it, set it aside, or ignore it.", field="answer")
    VisitRecord.objects.select_for_update().get(pk=record.pk)
    there = ConsiderationChoice.objects.filter(record=record, code=code).first()
    before = {"answer": there.answer, "note": there.note} if there else {}
    after = {"answer": answer, "note": note.strip()[:300]} if answer else {}
    if before == after:
        return there
    if not answer:
        ConsiderationChoice.objects.filter(record=record, code=code).delete()
        there = None
    elif there is None:
        there = ConsiderationChoice.objects.create(
            record=record, code=code, by=by, **after
        )
    else:
        there.answer, there.note, there.by = answer, after["note"], by
        there.save(update_fields=["answer", "note", "by", "changed_at"])
    note_change(
        by=by,
        obj=record,
        action=f"consider {code}",
        before=before,
        after=after,
    )
    return there

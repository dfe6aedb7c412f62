"""Foot plans: kept as a draft, accepted by a farrier, never changed after that."""

from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from horses.hoof import Foot
from horses.models import FootPlan, Horse, VisitRecord
from horses.selectors.plans import seen_lately
from horses.shoe.document import SHOE_IN, run_shoe
from horses.shoe.limits import Limits
from horses.shoe.rules import WAITS
from practice.errors import Refused
from practice.models import Practice, User
from practice.reckoning import BadDocument, check
from practice.services.changes import note_change


@dataclass(frozen=True, slots=True)
class VetWord:
    """Who of the vets agreed to the plan, and when."""

    name: str
    day: date


@dataclass(frozen=True, slots=True)
class Fittings:
    """What else is put on the shoe, in the trade's words; not weighed."""

    clips: str = ""
    pad: str = ""
    traction: str = ""


def reckoned(
    document: dict[str, Any], practice: Practice | None = None
) -> dict[str, Any]:
    """What a document comes to, by the practice's limits.

    Raises Refused with the document's pointer as the field.
    """
    limits = _limits(practice or Practice.objects.the_one())
    try:
        check(document, SHOE_IN)
        return run_shoe(document, limits)
    except BadDocument as bad:
        raise Refused(bad.sentence, field=bad.pointer) from bad


def _limits(practice: Practice) -> Limits:
    """The practice's own limits, ours where it has none."""
    limits = Limits()
    if practice.overhang_limit_mm is not None:
        limits = replace(limits, overhang_behind_mm=float(practice.overhang_limit_mm))
    if practice.heel_edge_limit_mm is not None:
        limits = replace(limits, heel_edge_mm=float(practice.heel_edge_limit_mm))
    return limits


def _farrier(by: User) -> None:
    if not by.is_farrier:
        raise Refused("A farrier plans a foot.")


_CHANGED = [
    "document",
    "result",
    "rules",
    "note",
    "clips",
    "pad",
    "traction",
    "changed_at",
]


@transaction.atomic
def save_plan(
    *,
    key: UUID,
    horse: Horse,
    foot: Foot,
    day: date,
    document: dict[str, Any],
    by: User,
    record: VisitRecord | None = None,
    note: str = "",
    fittings: Fittings | None = None,
) -> FootPlan:
    """Keeps a plan as a draft; the same key again changes that draft.

    The findings are those last recorded on the foot, whatever the document says.

    Raises:
        Refused: not a farrier, a plan already accepted, another horse's key or record,
            or a document that can't be reckoned (``field`` is its JSON pointer).
    """
    _farrier(by)
    if document.get("foot") != foot:
        raise Refused("The plan is of another foot.", field="/foot")
    if record is not None and record.horse_id != horse.pk:
        raise Refused("That record is of another horse.")
    document = {**document, "findings": seen_lately(horse=horse, foot=foot, today=day)}
    result = reckoned(document)
    plan = FootPlan.objects.select_for_update().filter(pk=key).first()
    if plan is None:
        plan = FootPlan(pk=key, horse=horse, foot=foot, day=day, by=by)
        plan.record = record or _record_of_the_day(horse, day)
        before: dict[str, Any] = {}
    else:
        if (plan.horse_id, plan.foot) != (horse.pk, foot):
            raise Refused("This key belongs to the plan of another foot.")
        if _said(plan) == (document, note.strip(), fittings or Fittings()):
            return plan
        if not plan.is_draft:
            raise Refused("This plan was accepted and stays as it is: make a new one.")
        before = {
            "document": plan.document,
            "note": plan.note,
            "fittings": plan.fittings,
        }
    plan.document, plan.result = document, result
    plan.rules, plan.note = result["rules"], note.strip()
    for name, word in asdict(fittings or Fittings()).items():
        setattr(plan, name, word)
    if plan._state.adding:
        plan.save(force_insert=True)
    else:
        plan.save(update_fields=_CHANGED)
    after = {"document": document, "note": plan.note, "fittings": plan.fittings}
    note_change(by=by, obj=plan, action="plan", before=before, after=after)
    return plan


def _said(plan: FootPlan) -> tuple[dict[str, Any], str, Fittings]:
    """What a plan says, as ``save_plan`` takes it."""
    fittings = Fittings(plan.clips, plan.pad, plan.traction)
    return plan.document, plan.note, fittings


def _record_of_the_day(horse: Horse, day: date) -> VisitRecord | None:
    """The horse's record of a visit on that day, whose report will print the plan."""
    return VisitRecord.objects.filter(horse=horse, visit__day=day).first()


@transaction.atomic
def accept_plan(
    *, plan: FootPlan, by: User, today: date, vet: VetWord | None = None
) -> FootPlan:
    """Accepts a draft; the plan that stood for the foot before is superseded.

    It is reckoned anew with what is now recorded of the foot, so that a foot gone lame
    since the draft waits too. A plan accepted already is left as it is.

    Raises:
        Refused: not a farrier, a rule refuses it, or it waits for a vet's word.
    """
    _farrier(by)
    horse = Horse.objects.select_for_update().get(pk=plan.horse_id)
    plan = FootPlan.objects.select_for_update().get(pk=plan.pk)
    if not plan.is_draft:
        return plan
    foot: Foot = plan.foot  # type: ignore[assignment]  # a constraint holds it
    seen = seen_lately(horse=horse, foot=foot, today=today)
    plan.document = {**plan.document, "findings": seen}
    plan.result = reckoned(plan.document)
    plan.rules = plan.result["rules"]
    _may_stand(plan, vet, today)
    if vet is not None:
        plan.vet_name, plan.vet_day = vet.name.strip(), vet.day
    before = FootPlan.objects.filter(
        horse=horse, foot=foot, state=FootPlan.State.ACCEPTED
    )
    for old in before:
        old.state = FootPlan.State.SUPERSEDED
        old.save(update_fields=["state", "changed_at"])
    plan.state = FootPlan.State.ACCEPTED
    plan.accepted_at, plan.accepted_by = timezone.now(), by
    plan.save(
        update_fields=[
            "document",
            "result",
            "rules",
            "vet_name",
            "vet_day",
            "state",
            "accepted_at",
            "accepted_by",
            "changed_at",
        ]
    )
    vet_words = f"{plan.vet_name}, {plan.vet_day}" if plan.has_vet_word else ""
    after = {"state": plan.state, "vet": vet_words}
    note_change(
        by=by, obj=plan, action="accept", before={"state": "draft"}, after=after
    )
    return plan


def _may_stand(plan: FootPlan, vet: VetWord | None, today: date) -> None:
    refused = [flag for flag in plan.flags if flag["state"] == "refused"]
    for flag in refused:
        if flag["code"] != WAITS:
            raise Refused(f"{flag['why']} {flag['mend']}")
    if refused and (vet is None or not vet.name.strip()):
        raise Refused(f"{refused[0]['why']} {refused[0]['mend']}", field="vet_name")
    if vet is not None and vet.day > today:
        raise Refused("The vet's word can't be of a later day.", field="vet_day")


@transaction.atomic
def drop_plan(*, plan: FootPlan, by: User) -> None:
    """Throws a draft away. Raises Refused for a plan that was accepted."""
    _farrier(by)
    row = FootPlan.objects.select_for_update().filter(pk=plan.pk).first()
    if row is None:
        return
    if not row.is_draft:
        raise Refused("This plan was accepted: it stays in the foot's story.")
    before = {"document": row.document, "note": row.note}
    note_change(by=by, obj=row, action="drop", before=before)
    row.delete()

"""Two years of plans for the demo's horses with a story, by the services themselves."""

from datetime import datetime, time
from typing import Any

from django.utils import timezone

from horses.hoof import FEET, Foot
from horses.models import FootPlan, Horse, VisitRecord
from horses.selectors.plans import start_of
from horses.services.plans import Fittings, accept_plan, save_plan
from practice.keys import uuid7

AMOUNTS = {
    "out": ("hoof", "out_mm"),
    "fit": ("shoe", "fit_mm"),
    "set": ("shoe", "set_mm"),
    "web": ("shoe", "web_change_mm"),
    "extension": ("shoe", "extension_mm"),
}


def plans_of_set(found: dict[str, Any]) -> None:
    """Plans each stage that a horse of the set has, spread over its visits."""
    horses = {horse.name: horse for horse in Horse.objects.all()}
    for told in found["horses"]:
        stages = told.get("plans", [])
        records = _records(horses[told["name"]]) if stages else []
        for at, stage in enumerate(stages):
            if records:
                share = at / max(len(stages) - 1, 1)
                record = records[round(share * (len(records) - 1))]
                for foot in FEET:
                    _plan(record, foot, stage.get(foot, {}))


def _records(horse: Horse) -> list[VisitRecord]:
    rows = VisitRecord.objects.filter(horse=horse, is_recorded=True)
    return list(rows.select_related("visit__farrier", "horse").order_by("visit__day"))


def _plan(record: VisitRecord, foot: Foot, said: dict[str, Any]) -> None:
    day, by = record.visit.day, record.visit.farrier
    if by is None:
        return
    horse = record.horse
    document = start_of(horse=horse, foot=foot, use=horse.use, today=day).document
    for name, (part, key) in AMOUNTS.items():
        document[part][key] = {
            place: float(mm) for place, mm in said.get(name, {}).items()
        }
    if "toe" in said:
        document["shoe"]["toe"] = {"at": "toe", "foot_dressed": False} | said["toe"]
    if "section" in said:
        document["shoe"]["section"] = said["section"]
    plan = save_plan(
        key=uuid7(),
        horse=horse,
        foot=foot,
        day=day,
        document=document,
        by=by,
        record=record,
        note=said.get("note", ""),
        fittings=Fittings(clips=said.get("clips", "")),
    )
    accept_plan(plan=plan, by=by, today=day)
    then = timezone.make_aware(datetime.combine(day, time(12)))
    FootPlan.objects.filter(pk=plan.pk).update(accepted_at=then)

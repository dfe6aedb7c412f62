"""What a wedge or the rasp would do to a recorded foot, and what changed on it."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from horses.effects import (
    COR_FORWARD_SOURCE,
    COR_HEIGHT_SOURCE,
    Effects,
    Stand,
    TooMuch,
    effects,
    height_of_a_degree_mm,
)
from horses.entries import FootEntry
from horses.forms.effects import EffectsForm
from horses.hoof import FEET, FOOT_NAMES, Foot
from horses.models import VisitRecord
from horses.selectors.changes import changes_of
from horses.selectors.records import entry_of, with_feet
from practice import access
from practice.models import Practice
from practice.units import LengthUnit

NOTHING_TRIED = {
    "wedge_at": "heel",
    "wedge_deg": "0",
    "wedge": "0",
    "heel_off": "0",
    "toe_off": "0",
    "set_back": "0",
}


@require_GET
@access.door(access.STAFF)
def record_effects(request: HttpRequest, pk: UUID) -> HttpResponse:
    """One foot of a saved record, and steps to try on it; nothing is kept.
    ``?part=figures`` gives the figures alone.
    """
    row = access.get(with_feet(VisitRecord.objects.visible_to(request.user)), pk=pk)
    practice = Practice.objects.the_one()
    unit: LengthUnit = practice.length_unit  # type: ignore[assignment]  # of three
    entries = {entry.foot: entry for entry in entry_of(row).feet}
    foot = _chosen(request, entries)
    stand = _stand(entries.get(foot), practice)
    tried = {name: request.GET.get(name, bare) for name, bare in NOTHING_TRIED.items()}
    form = EffectsForm(tried, unit=unit)
    page: dict[str, Any] = {
        "record": row,
        "form": form,
        "foot": foot,
        "foot_name": FOOT_NAMES[foot],
        "feet": FEET,
        "stand": stand,
        "sources": (COR_FORWARD_SOURCE, COR_HEIGHT_SOURCE),
        **_reckoned(form, stand),
    }
    is_part = request.GET.get("part") == "figures"
    template = "horses/_effects.html" if is_part else "horses/effects.html"
    status = 422 if form.errors or page.get("too_much") else 200
    return render(request, template, page, status=status)


@require_GET
@access.door(access.STAFF)
def record_changes(request: HttpRequest, pk: UUID) -> HttpResponse:
    """A piece for the record's page: what changed since the last visit and a year."""
    rows = VisitRecord.objects.visible_to(request.user).select_related("horse", "visit")
    row = access.get(rows, pk=pk)
    found = changes_of(
        record=row,
        viewer=access.member(request),
        practice=Practice.objects.the_one(),
    )
    page = {"record": row, "changes": found}
    return render(request, "horses/_changes.html", page)


def _chosen(request: HttpRequest, entries: dict[Foot, FootEntry]) -> Foot:
    """The foot asked for, else the first that can be reckoned, else the first."""
    asked = request.GET.get("foot", "")
    for foot in FEET:
        if foot == asked:
            return foot
    return next((foot for foot in FEET if _is_enough(entries.get(foot))), FEET[0])


def _is_enough(entry: FootEntry | None) -> bool:
    return (
        entry is not None
        and entry.dorsal_angle_deg is not None
        and entry.length_mm is not None
    )


def _stand(entry: FootEntry | None, practice: Practice) -> Stand | None:
    """The foot before the trim; None without toe angle and length."""
    if entry is None or entry.dorsal_angle_deg is None or entry.length_mm is None:
        return None

    def number(name: str) -> float | None:
        value = getattr(entry, name)
        return None if value is None else float(value)

    return Stand(
        dorsal_angle_deg=float(entry.dorsal_angle_deg),
        length_mm=float(entry.length_mm),
        dorsal_length_mm=number("dorsal_length_mm"),
        widest_from_toe_mm=number("widest_from_toe_mm"),
        heel_angle_deg=number("heel_angle_deg"),
        length_sd_mm=float(practice.length_sd_mm),
        angle_sd_deg=float(practice.angle_sd_deg),
    )


def _reckoned(form: EffectsForm, stand: Stand | None) -> dict[str, Any]:
    """The figures, or the sentence that says why there are none."""
    if not form.is_valid() or stand is None:
        return {}
    try:
        found: Effects = effects(stand, form.steps())
    except TooMuch as sentence:
        return {"too_much": str(sentence)}
    return {
        "effects": found,
        "degree_mm": height_of_a_degree_mm(stand.length_mm),
    }

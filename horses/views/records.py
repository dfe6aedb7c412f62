"""The record of one horse at a visit: filled in, shown, amended, printed."""

import json
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
)

from horses.entries import RecordEntry
from horses.feet import differences, look_at
from horses.findings import KINDS
from horses.forms.feet import seen_row
from horses.forms.records import (
    RecordForms,
    as_last_time,
    as_query,
    copied,
    record_data,
    repeatable,
)
from horses.forms.visits import PhotoForm
from horses.hoof import FEET
from horses.models import VisitRecord, Work
from horses.pdf import visit_report
from horses.selectors.limbs import limbs_on
from horses.selectors.records import entry_of, last_record, tell, with_feet
from horses.services.photos import add_photo
from horses.services.records import Conflict, amend_record, save_record
from practice import access
from practice.errors import Refused
from practice.models import Practice, User
from practice.units import LengthUnit

FOOT_TEMPLATE = "FOOT"
"""Stands for the foot in the names of a ticked finding's fields, for the page's script."""


def _record(request: HttpRequest, pk: UUID) -> VisitRecord:
    rows = with_feet(VisitRecord.objects.visible_to(request.user))
    return access.get(rows.prefetch_related("photos"), pk=pk)


def _practice(request: HttpRequest) -> Practice:
    """The practice that the middleware put on the request."""
    practice = getattr(request, "practice", None)
    return practice if isinstance(practice, Practice) else Practice.objects.the_one()


def _unit(request: HttpRequest) -> LengthUnit:
    unit: LengthUnit = _practice(request).length_unit  # type: ignore[assignment]  # one of the field's choices
    return unit


def _works(record: VisitRecord) -> list[Work]:
    works = list(Work.objects.active().on_horses())
    if record.work is not None and record.work not in works:
        works.append(record.work)
    return works


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.STAFF)
def record(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The record page: a form while the visit is open, a story after that."""
    row = _record(request, pk)
    if request.method == "POST":
        if not access.may_enter(request.user, access.TREATS):
            raise PermissionDenied
        return _save(request, row)
    if row.visit.is_closed or not access.member(request).treats:
        return _story(request, row)
    return _form(request, row, _standing(request, row))


def _standing(request: HttpRequest, row: VisitRecord) -> QueryDict:
    return as_query(
        record_data(entry_of(row), revision=row.revision, unit=_unit(request))
    )


def _story(request: HttpRequest, row: VisitRecord) -> HttpResponse:
    told = tell(VisitRecord.objects.filter(pk=row.pk), practice=_practice(request))
    page = {
        "told": told[0],
        "record": row,
        "limbs": limbs_on(row.horse, day=row.visit.day),
    }
    return render(request, "horses/record_told.html", page)


def _form(
    request: HttpRequest,
    row: VisitRecord,
    data: QueryDict,
    *,
    status: int = 200,
    refused: Refused | None = None,
    **more: Any,
) -> HttpResponse:
    """The form, bound to ``data``; what a service refused stands beside its field."""
    unit = _unit(request)
    before = last_record(row)
    last = (
        record_data(entry_of(before), revision=0, unit=unit)
        if before is not None
        else {}
    )
    forms = RecordForms(data, works=_works(row), unit=unit, last=as_query(last))
    forms.is_valid()
    if refused is not None:
        forms.place_error(refused.field, refused.sentence)
    page = {
        "record": row,
        "visit": row.visit,
        "forms": forms,
        "feet": list(zip(forms.feet, _looks(request, forms.entry()), strict=True)),
        "before": before,
        "limbs": limbs_on(row.horse, day=row.visit.day),
        "repeat": json.dumps(repeatable(last)),
        "kinds": [
            seen_row(f"{FOOT_TEMPLATE}-see-{key}", key, kind, at=[], grade="", note="")
            for key, kind in KINDS.items()
        ],
        "photo_form": PhotoForm(data if "photo_view" in data else None),
        **more,
    }
    return render(request, "horses/record.html", page, status=status)


def _looks(request: HttpRequest, entry: RecordEntry) -> list[Any]:
    """A look at each of the four feet, also at those of which nothing is said."""
    practice = _practice(request)
    return list(
        look_at(
            entry.all_feet(),
            length_sd_mm=float(practice.length_sd_mm),
            angle_sd_deg=float(practice.angle_sd_deg),
        )
    )


def _save(request: HttpRequest, row: VisitRecord) -> HttpResponse:
    """Fills in, or saves and goes on; what fails is shown with all that was typed."""
    data = request.POST
    if filled := _filled(request, row, data):
        messages.info(request, "Filled in, not saved yet.")
        return _form(request, row, filled)
    forms = RecordForms(data, works=_works(row), unit=_unit(request))
    if not forms.is_valid():
        return _form(request, row, data, status=422)
    try:
        saved = save_record(
            key=row.pk,
            visit=row.visit,
            horse=row.horse,
            entry=forms.entry(),
            base_revision=forms.horse.cleaned_data["revision"],
            by=access.member(request),
        )
    except Conflict as conflict:
        return _conflict(request, row, data, conflict, forms.entry())
    except Refused as refused:
        return _form(request, row, data, status=422, refused=refused)
    if refusals := _keep_photos(request, saved.record):
        messages.warning(request, f"The record is saved. {refusals[0]}")
        return redirect("horses:record", pk=row.pk)
    messages.success(request, f"{row.horse.name} is recorded.")
    if "stay" in data:
        return redirect("horses:record", pk=row.pk)
    return redirect("horses:visit", pk=row.visit_id)


def _filled(
    request: HttpRequest, row: VisitRecord, data: QueryDict
) -> QueryDict | None:
    """The typed fields after 'as last time' or 'copy to its pair', if one was asked."""
    if "copy" in data:
        return copied(data, str(data["copy"]))
    if "as_last" in data:
        before = last_record(row)
        if before is None:
            return data
        last = record_data(entry_of(before), revision=0, unit=_unit(request))
        return as_last_time(data, last, str(data["as_last"]))
    return None


def _conflict(
    request: HttpRequest,
    row: VisitRecord,
    data: QueryDict,
    conflict: Conflict,
    entry: RecordEntry,
    **more: Any,
) -> HttpResponse:
    """What was typed stays; saving once more puts it in place of what stands."""
    again = data.copy()
    again["revision"] = str(conflict.revision)
    differs = [d.words for d in differences(entry_of(row), entry)]
    return _form(
        request,
        row,
        again,
        status=409,
        refused=conflict,
        differs=differs,
        **more,
    )


def _keep_photos(request: HttpRequest, row: VisitRecord) -> list[str]:
    """Adds the photos that came along; what is wrong with any is told."""
    form = PhotoForm(request.POST)
    form.is_valid()
    by: User = access.member(request)
    refusals = []
    for upload in request.FILES.getlist("photo"):
        try:
            add_photo(
                record=row,
                upload=upload,  # type: ignore[arg-type]  # it reads like a file
                foot=form.cleaned_data.get("photo_foot", ""),
                view=form.cleaned_data.get("photo_view") or "other",
                by=by,
            )
        except Refused as refused:
            refusals.append(f"{upload.name}: {refused.sentence}")
    return refusals


@require_POST
@access.door(access.TREATS)
def record_look(request: HttpRequest, pk: UUID, foot: str) -> HttpResponse:
    """One foot as typed so far, drawn and reckoned; nothing is saved."""
    if foot not in FEET:
        raise Http404
    row = _record(request, pk)
    forms = RecordForms(request.POST, works=_works(row), unit=_unit(request))
    look = next(look for look in _looks(request, forms.entry()) if look.foot == foot)
    return render(request, "horses/_foot_look.html", {"look": look})


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.FARRIER)
def record_amend(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Changes a closed record, with the reason; the old values are kept."""
    row = _record(request, pk)
    if not row.visit.is_closed:
        return redirect("horses:record", pk=row.pk)
    if request.method != "POST":
        return _form(request, row, _standing(request, row), amending=True)
    data = request.POST
    forms = RecordForms(data, works=_works(row), unit=_unit(request))
    if not forms.is_valid():
        return _form(request, row, data, status=422, amending=True)
    said = forms.horse.cleaned_data
    try:
        amend_record(
            record=row,
            entry=forms.entry(),
            reason=said["reason"],
            base_revision=said["revision"] or 0,
            by=access.member(request),
        )
    except Conflict as conflict:
        return _conflict(request, row, data, conflict, forms.entry(), amending=True)
    except Refused as refused:
        return _form(request, row, data, status=422, refused=refused, amending=True)
    messages.success(request, "Amended. The old values are kept.")
    return redirect("horses:record", pk=row.pk)


@require_GET
@access.door(access.SIGNED_IN)
def record_report(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The report of one horse's visit as a PDF, for its owner or a vet."""
    row = _record(request, pk)
    told = tell(VisitRecord.objects.filter(pk=row.pk), practice=_practice(request))
    report = visit_report(told[0], practice=_practice(request))
    response = HttpResponse(report.content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{report.name}"'
    response["Cache-Control"] = "private, no-store"
    return response

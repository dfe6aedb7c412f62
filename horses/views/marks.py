"""Marks on a photo: set, moved, read, and their figures put into the record."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from horses.forms.marks import MarksForm, ShowsForm, marks_data
from horses.forms.records import as_query
from horses.models import Photo, VisitRecord
from horses.selectors.marks import Figures, board_of, figures_of, points_of
from horses.selectors.plans import outline_of
from horses.selectors.records import with_feet
from horses.services.marks import save_marks, tell_photo, use_figures
from horses.services.records import Conflict
from practice import access
from practice.errors import Refused
from practice.models import Practice
from practice.units import LengthUnit

SHOWS_ID = "shows_%s"
"""The page has two forms with a reason: their fields have different ids."""


def _photo(request: HttpRequest, pk: UUID) -> Photo:
    photo = access.get(
        Photo.objects.visible_to(request.user).prefetch_related("landmarks"), pk=pk
    )
    records = with_feet(VisitRecord.objects.filter(pk=photo.record_id))
    photo.record = access.get(records, pk=photo.record_id)
    return photo


def _unit(request: HttpRequest) -> LengthUnit:
    practice = getattr(request, "practice", None)
    if not isinstance(practice, Practice):
        practice = Practice.objects.the_one()
    unit: LengthUnit = practice.length_unit  # type: ignore[assignment]  # one of the field's choices
    return unit


def _kept(request: HttpRequest, photo: Photo) -> QueryDict:
    return as_query(marks_data(photo, points_of(photo), _unit(request)))


def _page(
    request: HttpRequest,
    photo: Photo,
    data: QueryDict,
    *,
    status: int = 200,
    refused: Refused | None = None,
    **more: Any,
) -> HttpResponse:
    """The page with the marks that ``data`` says, and what was refused."""
    member = access.member(request)
    is_closed = photo.record.visit.is_closed
    page: dict[str, Any] = {
        "photo": photo,
        "record": photo.record,
        "can_mark": member.is_farrier if is_closed else member.treats,
        "is_closed": is_closed,
        "plans_from": member.is_farrier and outline_of(photo) is not None,
        "shows": ShowsForm(
            initial={"foot": photo.foot, "view": photo.view}, auto_id=SHOWS_ID
        ),
        "refused": refused if refused and refused.field != "reason" else None,
    }
    if photo.view != Photo.View.OTHER:
        form = MarksForm(data, photo=photo, unit=_unit(request))
        points = form.points()
        if refused is not None and refused.field == "reason":
            form.add_error("reason", refused.sentence)
        page |= {
            "form": form,
            "board": board_of(photo, points),
            "figures": _figures(photo, form),
        }
    return render(request, "horses/photo_marks.html", page | more, status=status)


def _figures(photo: Photo, form: MarksForm) -> Figures:
    return figures_of(
        photo,
        form.points(),
        form.known_mm,
        ticked=form.ticked,
        offered=form.offered,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.STAFF)
def photo_marks(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The photo with its marks and their figures; saves them."""
    photo = _photo(request, pk)
    if request.method != "POST":
        return _page(request, photo, _kept(request, photo))
    if not access.may_enter(request.user, access.TREATS):
        raise PermissionDenied
    if photo.view == Photo.View.OTHER:
        unsaid = Refused("Say first which foot the photo shows, and from where.")
        return _page(request, photo, request.POST, status=422, refused=unsaid)
    return _save(request, photo)


def _save(request: HttpRequest, photo: Photo) -> HttpResponse:
    data = request.POST
    form = MarksForm(data, photo=photo, unit=_unit(request))
    if not form.is_valid():
        return _page(request, photo, data, status=422)
    said, by = form.cleaned_data, access.member(request)
    try:
        save_marks(
            photo=photo,
            points=form.points(),
            known_mm=form.known_mm,
            base_revision=said["revision"],
            by=by,
            reason=said["reason"],
        )
    except Conflict as conflict:
        again = data.copy()
        again["revision"] = str(conflict.revision)
        return _page(request, photo, again, status=409, refused=conflict)
    except Refused as refused:
        return _page(request, photo, data, status=422, refused=refused)
    if "into_record" not in data:
        messages.success(request, "The marks are saved.")
        return redirect("horses:photo_marks", pk=photo.pk)
    return _use(request, photo, form)


def _use(request: HttpRequest, photo: Photo, form: MarksForm) -> HttpResponse:
    try:
        use_figures(
            photo=photo,
            chosen=form.chosen(),
            by=access.member(request),
            reason=form.cleaned_data["reason"],
        )
    except Refused as refused:
        fresh = _photo(request, photo.pk)
        again = request.POST.copy()
        again["revision"] = str(fresh.marks_revision)
        return _page(request, fresh, again, status=422, refused=refused, saved=True)
    messages.success(request, "The marks are saved, and the ticked figures recorded.")
    return redirect("horses:photo_marks", pk=photo.pk)


@require_POST
@access.door(access.TREATS)
def photo_figures(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The figures of the marks as they stand on the page; nothing is saved."""
    photo = _photo(request, pk)
    if photo.view == Photo.View.OTHER:
        return HttpResponse(status=204)
    form = MarksForm(request.POST, photo=photo, unit=_unit(request))
    page = {
        "photo": photo,
        "figures": _figures(photo, form),
        "can_mark": True,
    }
    return render(request, "horses/_photo_figures.html", page)


@require_POST
@access.door(access.TREATS)
def photo_shows(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Says which foot the photo shows, and from where."""
    photo = _photo(request, pk)
    shows = ShowsForm(request.POST, auto_id=SHOWS_ID)
    if not shows.is_valid():
        kept = _kept(request, photo)
        return _page(request, photo, kept, status=422, shows=shows)
    try:
        tell_photo(photo=photo, by=access.member(request), **shows.cleaned_data)
    except Refused as refused:
        shows.add_error(refused.field, refused.sentence)
        kept = _kept(request, photo)
        return _page(request, photo, kept, status=422, shows=shows)
    return redirect("horses:photo_marks", pk=photo.pk)

"""Considerations: all of them, and those that apply to a horse, to take up or not."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from horses.considerations.weighing import (
    ALL,
    BY_CODE,
    RULES_VERSION,
    VET_FIRST,
    by_topic,
)
from horses.forms.limbs import ConsiderForm
from horses.models import Horse, VisitRecord
from horses.selectors.limbs import Weighing, weighing_at, weighing_of
from horses.selectors.records import with_feet
from horses.services.conformation import consider as answer_to
from practice import access
from practice.errors import Refused
from practice.models import Practice


@require_GET
@access.door(access.STAFF)
def considerations(request: HttpRequest) -> HttpResponse:
    """All that may be weighed, with reason, source and what speaks against it."""
    page = {"topics": by_topic(), "count": len(ALL), "version": RULES_VERSION}
    return render(request, "horses/considerations.html", page)


def _record(request: HttpRequest, pk: UUID) -> VisitRecord:
    return access.get(with_feet(VisitRecord.objects.visible_to(request.user)), pk=pk)


@require_GET
@access.door(access.STAFF)
def record_considerations(request: HttpRequest, pk: UUID) -> HttpResponse:
    """What is weighed for the horse at this record."""
    record = _record(request, pk)
    weighing = weighing_at(record, practice=Practice.objects.the_one())
    return _page(request, weighing)


@require_GET
@access.door(access.STAFF)
def horse_considerations(request: HttpRequest, pk: int) -> HttpResponse:
    """What is weighed for the horse now, by its last record."""
    horse = access.get(Horse.objects.visible_to(request.user), pk=pk)
    weighing = weighing_of(
        horse, practice=Practice.objects.the_one(), today=timezone.localdate()
    )
    return _page(request, weighing)


def _page(request: HttpRequest, weighing: Weighing) -> HttpResponse:
    """The page, or its piece alone where another page's script asks for it."""
    is_piece = request.headers.get("X-Requested-With") == "fetch"
    template = "horses/_weighing.html" if is_piece else "horses/weighing.html"
    page = {"weighing": weighing, "horse": weighing.horse, "vet_first": VET_FIRST}
    return render(request, template, page)


@require_POST
@access.door(access.FARRIER)
def consider(request: HttpRequest, pk: UUID, code: str) -> HttpResponse:
    """Accepts one, sets it aside, or ignores it again."""
    record = _record(request, pk)
    if code not in BY_CODE:
        raise Http404
    form = ConsiderForm(request.POST)
    if form.is_valid():
        try:
            answer_to(
                record=record,
                code=code,
                answer=form.cleaned_data["answer"],
                note=form.cleaned_data["note"],
                by=access.member(request),
            )
        except Refused as refused:
            messages.error(request, refused.sentence)
    else:
        messages.error(request, "Accept it, set it aside, or ignore it.")
    if request.headers.get("X-Requested-With") == "fetch":
        weighing = weighing_at(record, practice=Practice.objects.the_one())
        return _page(request, weighing)
    return redirect("horses:record_considerations", pk=record.pk)

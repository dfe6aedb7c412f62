"""Files of the books that the worker makes: asked for, watched, taken away."""

import re
from datetime import date
from uuid import UUID

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from billing.models import MadeFile
from billing.services.files import KEPT_DAYS, ask_for, is_making, path_of
from practice import access
from practice.errors import Refused

_PERIOD = re.compile(r"([0-9]{4})(?:-(0[1-9]|1[0-2]))?")


def _period(text: str) -> tuple[str, date]:
    """``2026`` is a year's archive, ``2026-11`` a month's documents."""
    found = _PERIOD.fullmatch(text)
    if found is None or found[1] == "0000":
        raise Refused("Choose a month or a year.")
    if found[2]:
        return MadeFile.Kind.MONTH, date(int(found[1]), int(found[2]), 1)
    return MadeFile.Kind.YEAR, date(int(found[1]), 1, 1)


@require_POST
@access.door(access.BOOKS)
def ask(request: HttpRequest) -> HttpResponse:
    """Has a month's or a year's file made."""
    try:
        kind, first = _period(request.POST.get("period", ""))
        row = ask_for(kind=kind, first=first, by=access.member(request))
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("billing:books")
    return redirect("billing:file", row.pk)


def _told(row: MadeFile) -> dict[str, object]:
    return {"file": row, "is_making": is_making(row), "kept_days": KEPT_DAYS}


@never_cache
@require_safe
@access.door(access.BOOKS)
def file(request: HttpRequest, pk: UUID) -> HttpResponse:
    """How far a file is, and the way to take it away."""
    row = access.get(MadeFile.objects.all(), pk=pk)
    return render(request, "billing/file.html", _told(row))


@never_cache
@require_safe
@access.door(access.BOOKS)
def progress(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The same as a piece, for the page to look again."""
    told = _told(access.get(MadeFile.objects.all(), pk=pk))
    answer = render(request, "billing/_file.html", told)
    answer["X-Unfinished"] = "1" if told["is_making"] else "0"
    return answer


@require_safe
@access.door(access.BOOKS)
def take(request: HttpRequest, pk: UUID) -> HttpResponseBase:
    """The file itself."""
    row = access.get(MadeFile.objects.exclude(sha256=""), pk=pk)
    try:
        content = path_of(row).open("rb")
    except OSError:
        messages.error(request, "This file is no longer kept: have it made again.")
        return redirect("billing:books")
    answer = FileResponse(
        content,
        as_attachment=True,
        filename=row.name,
        content_type=row.media_type,
    )
    answer["Cache-Control"] = "private, no-store"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer

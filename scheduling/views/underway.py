"""The day under way: taps, running late, the round sheet."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from practice import access
from practice.errors import Refused
from practice.models import Practice
from practice.pdf import PdfUnavailable
from scheduling.models import Booking, Round
from scheduling.pdf import round_sheet as sheet_pdf
from scheduling.selectors.rounds import with_stops
from scheduling.selectors.sheets import sheet_of
from scheduling.selectors.underway import Moved, moved
from scheduling.services import telling
from scheduling.services import underway as service

MOST_TYPED = 4
LONG_AGO = datetime(2000, 1, 1, tzinfo=UTC)
BAD_MINUTES = 1
"""What the service refuses with its own words."""


def _round(request: HttpRequest, pk: UUID) -> Round:
    found = Round.objects.visible_to(request.user).select_related("farrier")
    return access.get(found, pk=pk)


def _booking(request: HttpRequest, pk: UUID) -> Booking:
    found = Booking.objects.visible_to(request.user).select_related("barn", "farrier")
    return access.get(found, pk=pk)


def _back(booking: Booking) -> HttpResponse:
    round_ = Round.objects.filter(farrier=booking.farrier, day=booking.day).first()
    if round_ is None:
        return redirect("scheduling:rounds")
    return redirect("scheduling:round", pk=round_.pk)


def _typed(request: HttpRequest, name: str) -> int | None:
    text = request.POST.get(name, "")
    short = text.isascii() and text.isdigit() and len(text) <= MOST_TYPED
    return int(text) if short else None


def _say(request: HttpRequest, act: Callable[[], object], done: str) -> None:
    try:
        act()
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, done)


@require_POST
@access.door(access.TREATS)
def left_home(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The farrier drives off."""
    round_, by = _round(request, pk), access.member(request)
    _say(
        request,
        lambda: service.leave_home(round_=round_, at=timezone.now(), by=by),
        "Off you go: the times are set from now.",
    )
    return redirect("scheduling:round", pk=pk)


@require_POST
@access.door(access.TREATS)
def home_again(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The farrier is home."""
    round_, by = _round(request, pk), access.member(request)
    _say(
        request,
        lambda: service.come_home(round_=round_, at=timezone.now(), by=by),
        "Home. The day is kept.",
    )
    return redirect("scheduling:round", pk=pk)


@require_POST
@access.door(access.TREATS)
def arrived(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The farrier is at the barn."""
    booking, by = _booking(request, pk), access.member(request)
    _say(
        request,
        lambda: service.arrive(booking=booking, at=timezone.now(), by=by),
        f"At {booking.barn.name}.",
    )
    return _back(booking)


@require_POST
@access.door(access.TREATS)
def left(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The farrier drives on."""
    booking, by = _booking(request, pk), access.member(request)
    _say(
        request,
        lambda: service.leave(booking=booking, at=timezone.now(), by=by),
        f"{booking.barn.name} is done.",
    )
    return _back(booking)


@require_POST
@access.door(access.STAFF)
def late(request: HttpRequest, pk: UUID) -> HttpResponse:
    """So many minutes more: the rest of the round is timed anew."""
    booking, by = _booking(request, pk), access.member(request)
    minutes, was = _typed(request, "minutes"), _typed(request, "was")
    word = f"{minutes} minutes more" if minutes else "On time again"
    _say(
        request,
        lambda: service.run_late(
            booking=booking,
            minutes=BAD_MINUTES if minutes is None else minutes,
            was=was,
            by=by,
            at=timezone.now(),
        ),
        f"{word} at {booking.barn.name}: the rest is timed anew.",
    )
    return _back(booking)


@require_POST
@access.door(access.BOOKS)
def skip(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Leaves a stop out today."""
    booking, by = _booking(request, pk), access.member(request)
    _say(
        request,
        lambda: service.skip(booking=booking, by=by, at=timezone.now()),
        f"{booking.barn.name} is left out; its horses are due again.",
    )
    return _back(booking)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.STAFF)
def tell_late(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Who is to hear of which new time, by mail or by phone; POST sends the mails, once
    for each new time."""
    round_, practice = _round(request, pk), Practice.objects.the_one()
    if request.method == "POST":
        sent = telling.tell_late(
            round_=round_,
            only=set(request.POST.getlist("booking")),
            by=access.member(request),
        )
        word = "message goes" if sent == 1 else "messages go"
        messages.success(request, f"{sent} {word} out.")
        waits = moved(round_)
        return redirect("scheduling:tell_late" if waits else "scheduling:round", pk=pk)
    drafts = [_draft(one, practice) for one in moved(round_)]
    page = {
        "round": round_,
        "drafts": drafts,
        "mails": any(one["mails"] for one in drafts),
        "sends": any(one["mails"] or one["nobody"] for one in drafts),
    }
    return render(request, "scheduling/tell_late.html", page)


def _draft(one: Moved, practice: Practice) -> dict[str, Any]:
    news = telling.news_of(one)
    waiting = [row for row in news if not row.is_told]
    return {
        "moved": one,
        "mails": [_worded(row, practice) for row in waiting if row.is_mailed],
        "calls": [_worded(row, practice) for row in waiting if not row.is_mailed],
        "told": [row for row in news if row.is_told and row.row],
        "nobody": not news,
    }


def _worded(news: telling.News, practice: Practice) -> dict[str, Any]:
    party = news.party
    words = telling.draft_words(news.moved, party.name, practice, party.client)
    return {"news": news, "words": words, "text": telling.draft(words)}


@require_POST
@access.door(access.STAFF)
def told(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Somebody was told by phone: which booking, who, which start."""
    round_ = _round(request, pk)
    booking, party, said = [*request.POST.get("told", "").split(" "), "", ""][:3]
    starts = _moment(said)
    _say(
        request,
        lambda: telling.told_by_phone(
            round_=round_,
            booking=booking,
            party=party,
            starts=starts,
            by=access.member(request),
        ),
        "Noted: told by phone.",
    )
    waits = moved(round_)
    return redirect("scheduling:tell_late" if waits else "scheduling:round", pk=pk)


def _moment(text: str) -> datetime:
    """The moment that a page wrote; long ago where it is none, which is refused."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return LONG_AGO
    return found if timezone.is_aware(found) else LONG_AGO


@require_safe
@access.door(access.STAFF)
def round_sheet(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The day on one page, for reading and printing."""
    round_ = access.get(with_stops(Round.objects.visible_to(request.user)), pk=pk)
    sheet = sheet_of(round_, Practice.objects.the_one())
    page = {"round": round_, "sheet": sheet}
    return render(request, "scheduling/round_sheet.html", page)


@require_safe
@access.door(access.STAFF)
def round_sheet_pdf(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The same as a PDF."""
    round_ = access.get(with_stops(Round.objects.visible_to(request.user)), pk=pk)
    try:
        content = sheet_pdf(sheet_of(round_, Practice.objects.the_one()))
    except PdfUnavailable as missing:
        messages.error(request, str(missing))
        return redirect("scheduling:round_sheet", pk=pk)
    response = HttpResponse(content, content_type="application/pdf")
    name = f"round-{round_.day.isoformat()}.pdf"
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response

"""Booking a round: choose, look how it would be, book."""

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from horses.models import Horse
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Practice, User
from scheduling.forms.rounds import BookForm
from scheduling.selectors.booking import (
    candidates,
    chosen_wishes,
    map_of_choice,
    outlook_of,
)
from scheduling.selectors.hours import work_hours
from scheduling.services.rounds import book_round


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def book(request: HttpRequest) -> HttpResponse:
    """GET and POST with do=look show the round as it would be; do=book books it."""
    viewer, today = access.member(request), timezone.localdate()
    posted = request.method == "POST"
    form = BookForm(
        request.POST if posted else _start(request.GET, viewer, today),
        horses=_horses(viewer),
        today=today,
    )
    if form.is_valid() and request.POST.get("do") == "book":
        try:
            round_ = book_round(
                farrier=form.cleaned_data["farrier"],
                day=form.cleaned_data["day"],
                wishes=chosen_wishes(form.cleaned_data["horse"], form.typed()),
                status=form.cleaned_data["status"],
                note=form.cleaned_data["note"],
                by=viewer,
                today=today,
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "The round is booked.")
            return redirect("scheduling:round", pk=round_.pk)
    page = _page(form, viewer, today)
    status = 422 if posted and form.errors else 200
    return render(request, "scheduling/book.html", page, status=status)


def _horses(viewer: User) -> Any:
    return (
        Horse.objects.visible_to(viewer)
        .active()
        .select_related("barn__area", "usual_work", "due_window")
        .prefetch_related("barn__access_hours")
    )


def _start(asked: QueryDict, viewer: User, today: date) -> QueryDict:
    """What the address asks for; the rest as is likely: oneself, the next working day."""
    data = asked.copy()
    if not data.get("farrier"):
        farrier = viewer if viewer.is_farrier else User.objects.farriers().first()
        data["farrier"] = str(farrier.pk) if farrier else ""
    if not data.get("day"):
        data["day"] = _next_day(str(data["farrier"]), today).isoformat()
    if not data.get("status"):
        data["status"] = "agreed"
    return data


def _next_day(farrier_pk: str, today: date) -> date:
    tomorrow = today + timedelta(days=1)
    farrier = User.objects.farriers().filter(pk=farrier_pk or 0).first()
    if farrier is None:
        return tomorrow
    days = [today + timedelta(days=n) for n in range(1, 15)]
    hours = work_hours(farriers=[farrier], days=days)
    return next((d for d in days if hours[farrier.pk, d].drives_out), tomorrow)


def _page(form: BookForm, viewer: User, today: date) -> dict[str, Any]:
    practice = Practice.objects.the_one()
    cleaned = getattr(form, "cleaned_data", {})
    chosen = list(cleaned.get("horse") or [])
    day, farrier = cleaned.get("day"), cleaned.get("farrier")
    outlook = None
    if farrier and day:
        outlook = outlook_of(
            practice=practice,
            farrier=farrier,
            day=day,
            wishes=chosen_wishes(chosen, form.typed()),
        )
    offered = candidates(
        viewer=viewer,
        practice=practice,
        today=today,
        day=day or today,
        chosen=chosen,
    )
    return {
        "form": form,
        "outlook": outlook,
        "candidates": offered,
        "typed": {
            name: form.data.get(name) for name in form.fields if "typed_" in name
        },
        "map": map_of_choice(outlook, offered, practice),
        "today": today,
    }

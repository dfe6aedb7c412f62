"""A place that has come free in a round: who could take it."""

from datetime import date

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from horses.models import Horse
from practice import access
from practice.errors import Refused
from practice.forms.choices import ManyRows
from practice.models import Practice, User
from scheduling.models import Booking, Round
from scheduling.selectors.booking import chosen_wishes
from scheduling.selectors.slots import who_could_take
from scheduling.services.rounds import book_round


class _Take(forms.Form):
    horse = ManyRows(Horse.objects.none())

    def __init__(self, data: QueryDict, horses: QuerySet[Horse]) -> None:
        super().__init__(data)
        field = self.fields["horse"]
        assert isinstance(field, ManyRows)
        field.queryset = horses


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def slot(request: HttpRequest, farrier: int, day: str) -> HttpResponse:
    """Due horses in their window that fit into the round, by added driving; one tap
    books them, pencilled."""
    who = access.get(User.objects.farriers(), pk=farrier)
    try:
        when = date.fromisoformat(day)
    except ValueError as error:
        raise Http404 from error
    viewer, today = access.member(request), timezone.localdate()
    if request.method == "POST":
        horses = (
            Horse.objects.visible_to(viewer)
            .active()
            .select_related("barn", "usual_work", "due_window")
            .prefetch_related("barn__access_hours")
        )
        form = _Take(request.POST, horses)
        if form.is_valid():
            try:
                round_ = book_round(
                    farrier=who,
                    day=when,
                    wishes=chosen_wishes(form.cleaned_data["horse"], {}),
                    by=viewer,
                    today=today,
                    status=Booking.Status.PENCILLED,
                )
            except Refused as refusal:
                messages.error(request, refusal.sentence)
            else:
                messages.success(request, "Booked, pencilled. Ask the owner next.")
                return redirect("scheduling:round", pk=round_.pk)
        else:
            messages.error(request, "Choose one of the barns listed.")
        return redirect("scheduling:slot", farrier=farrier, day=day)
    takers = (
        who_could_take(
            practice=Practice.objects.the_one(), farrier=who, day=when, today=today
        )
        if when >= today
        else []
    )
    page = {
        "farrier": who,
        "day": when,
        "takers": takers,
        "round": Round.objects.filter(farrier=who, day=when).first(),
        "today": today,
    }
    return render(request, "scheduling/slot.html", page)

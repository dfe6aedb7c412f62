"""The rules of charging: what is switched on, and the rows that it goes by."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from billing.forms.rules import FORMS, BandForm, OffHoursForm, RulesForm, StepForm
from billing.models import NoticeStep, OffHours, TravelBand
from billing.selectors import billing_settings
from billing.services.rules import ROWS, add_row, remove_row, set_rules
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Practice
from practice.units import System

_SET = (
    *("split_mode", "travel", "travel_price", "travel_free_metres"),
    *("travel_both_ways", "travel_of_round", "minimum_charge", "put_back_days"),
    *("put_back_call_out_free", "off_hours_on", "no_show_on", "late_call_off_on"),
)


def road_system(practice: Practice) -> System:
    """The system in which this practice measures roads."""
    return "imperial" if practice.road_unit == Practice.RoadUnit.MI else "metric"


def _page(request: HttpRequest, **forms: Any) -> HttpResponse:
    practice, said = Practice.objects.the_one(), billing_settings()
    system = road_system(practice)
    page = {
        "said": said,
        "rules": RulesForm(
            system=system, initial={name: getattr(said, name) for name in _SET}
        ),
        "band": BandForm(system=system, prefix="band"),
        "off_hours": OffHoursForm(prefix="off_hours"),
        "step": StepForm(prefix="step"),
        "bands": TravelBand.objects.select_related("area"),
        "hours": OffHours.objects.all(),
        "steps": NoticeStep.objects.all(),
        **forms,
    }
    status = 422 if any(form.is_bound for form in forms.values()) else 200
    return render(request, "billing/rules.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def rules(request: HttpRequest) -> HttpResponse:
    """All switches on one page, saved together."""
    if request.method != "POST":
        return _page(request)
    system = road_system(Practice.objects.the_one())
    form = RulesForm(request.POST, system=system)
    if form.is_valid():
        try:
            set_rules(by=access.member(request), wish=form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "The rules are saved: they hold for new drafts.")
            return redirect("billing:rules")
    return _page(request, rules=form)


@require_POST
@access.door(access.BOOKS)
def add(request: HttpRequest, kind: str) -> HttpResponse:
    """A further band, off-hours or step."""
    if kind not in FORMS:
        raise Http404
    more: dict[str, Any] = {}
    if kind == "band":
        more["system"] = road_system(Practice.objects.the_one())
    form = FORMS[kind](request.POST, prefix=kind, **more)
    if form.is_valid():
        try:
            add_row(by=access.member(request), kind=kind, wish=form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Added.")
            return redirect("billing:rules")
    return _page(request, **{kind: form})


@require_POST
@access.door(access.BOOKS)
def remove(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Takes one away."""
    if kind not in ROWS:
        raise Http404
    remove_row(by=access.member(request), kind=kind, pk=pk)
    messages.success(request, "Removed.")
    return redirect("billing:rules")

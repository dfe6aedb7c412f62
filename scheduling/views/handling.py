"""How horses are handled and when barns can be attended, for planning."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from horses.models import Horse, Work
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Barn
from scheduling.forms.handling import ClosureForm, FinishForm, HandlingForm
from scheduling.models import BarnClosure, BarnFinish
from scheduling.selectors.handling import NOTHING_SAID, handling_of
from scheduling.services import handling as service


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def horse_handling(request: HttpRequest, pk: int) -> HttpResponse:
    """Who treats the horse, by how many, how long it takes."""
    horses = Horse.objects.visible_to(request.user).select_related("usual_work", "barn")
    horse = access.get(horses, pk=pk)
    said = handling_of([horse]).get(horse.pk, NOTHING_SAID)
    form = HandlingForm(
        request.POST if request.method == "POST" else None,
        initial={
            "farrier": said.preferred,
            "may_treat": sorted(said.may_treat),
            "needs_two": said.needs_two,
            "minutes": said.minutes,
            **{f"minutes_{work}": own for work, own in said.by_work.items()},
        },
        works=Work.objects.active().on_horses(),
    )
    if form.is_valid():
        typed = form.cleaned_data
        try:
            service.set_handling(
                horse=horse,
                by=access.member(request),
                farrier=typed["farrier"],
                may_treat=list(typed["may_treat"]),
                needs_two=typed["needs_two"],
                minutes=typed["minutes"],
                by_work=form.by_work(),
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"Kept for {horse.name}.")
            return redirect("horses:horse", pk=horse.pk)
    status = 422 if form.errors else 200
    page = {
        "horse": horse,
        "form": form,
        "planned": said.minutes_with(horse.usual_work),
    }
    return render(request, "scheduling/horse_handling.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def barn_times(request: HttpRequest, pk: int) -> HttpResponse:
    """When the work at the barn must be over, and its closed days."""
    barn = access.get(Barn.objects.visible_to(request.user), pk=pk)
    rows = BarnFinish.objects.filter(barn=barn)
    form = FinishForm(
        request.POST if request.method == "POST" else None,
        initial={f"by_{row.weekday}": row.finish_by for row in rows},
    )
    if form.is_valid():
        service.set_finish_by(barn=barn, by=access.member(request), times=form.times())
        messages.success(request, f"The hours of {barn.name} are kept.")
        return redirect("practice:barn", pk=barn.pk)
    return _barn_page(request, barn, form, ClosureForm(), 422 if form.errors else 200)


@require_POST
@access.door(access.BOOKS)
def close_barn(request: HttpRequest, pk: int) -> HttpResponse:
    """Adds closed days."""
    barn = access.get(Barn.objects.visible_to(request.user), pk=pk)
    closure = ClosureForm(request.POST)
    if closure.is_valid():
        try:
            service.close_barn(
                barn=barn, by=access.member(request), **closure.cleaned_data
            )
        except Refused as refusal:
            say(closure, refusal)
        else:
            messages.success(request, f"{barn.name} is closed on those days.")
            return redirect("scheduling:barn_times", pk=barn.pk)
    rows = BarnFinish.objects.filter(barn=barn)
    form = FinishForm(initial={f"by_{row.weekday}": row.finish_by for row in rows})
    return _barn_page(request, barn, form, closure, 422)


@require_POST
@access.door(access.BOOKS)
def open_barn(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes closed days back."""
    visible = Barn.objects.visible_to(request.user)
    closure = access.get(
        BarnClosure.objects.filter(barn__in=visible).select_related("barn"), pk=pk
    )
    service.open_barn(closure=closure, by=access.member(request))
    return redirect("scheduling:barn_times", pk=closure.barn_id)


def _barn_page(
    request: HttpRequest,
    barn: Barn,
    form: FinishForm,
    closure: ClosureForm,
    status: int,
) -> HttpResponse:
    page = {
        "barn": barn,
        "form": form,
        "closure": closure,
        "closed": _closed_ahead(barn),
    }
    return render(request, "scheduling/barn_times.html", page, status=status)


@require_safe
@access.door(access.STAFF)
def barn_times_piece(request: HttpRequest, pk: int) -> HttpResponse:
    """For the barn's page: when work must be over, and closed days ahead."""
    barn = access.get(Barn.objects.visible_to(request.user), pk=pk)
    page = {
        "barn": barn,
        "finish": BarnFinish.objects.filter(barn=barn),
        "closed": _closed_ahead(barn),
    }
    return render(request, "scheduling/_barn_times.html", page)


def _closed_ahead(barn: Barn) -> "list[BarnClosure]":
    today = timezone.localdate()
    return list(BarnClosure.objects.filter(barn=barn, last__gte=today))

"""Weeks proposed: asked for, looked at while they are reckoned, moved, accepted."""

from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.keys import uuid7
from practice.models import Practice, User
from scheduling.forms.proposals import AcceptForm, MoveForm, ProposeForm
from scheduling.models import Proposal, ProposalStep
from scheduling.planner.weighing import told
from scheduling.selectors import proposals as select
from scheduling.selectors.moves import choices
from scheduling.selectors.proposal_map import map_of_weeks
from scheduling.selectors.weights import weights_in_use
from scheduling.services import accepting, moving, undoing
from scheduling.services import proposals as service

SHOWN_CHOICES = 12
LISTED = 20


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def propose(request: HttpRequest) -> HttpResponse:
    """The form, and the proposals made before."""
    viewer, today = access.member(request), timezone.localdate()
    posted = request.method == "POST"
    form = ProposeForm(
        request.POST if posted else None, today=today, initial=_start(request, today)
    )
    if form.is_valid():
        said = form.cleaned_data
        try:
            made = service.start_proposal(
                key=said["key"],
                starts=said["starts"],
                weeks=said["weeks"],
                farriers=list(said["farriers"]),
                may_move=said["may_move"],
                together=said["together"],
                seconds=said["seconds"],
                by=viewer,
                today=today,
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            return redirect("scheduling:proposal", pk=made.pk)
    rows = Paginator(select.listed(viewer), LISTED).get_page(request.GET.get("page"))
    page = {"form": form, "page": rows, "today": today}
    status = 422 if posted and form.errors else 200
    return render(request, "scheduling/propose.html", page, status=status)


def _start(request: HttpRequest, today: date) -> dict[str, Any]:
    """What was asked for last time (``like``), else four weeks of everybody's."""
    first: dict[str, Any] = {
        "starts": today + timedelta(days=1),
        "farriers": [one.pk for one in User.objects.farriers()],
        "key": uuid7(),
        "together": round(weights_in_use().keep_together),
    }
    try:
        like = UUID(request.GET.get("like", ""))
    except ValueError:
        return first
    row = Proposal.objects.visible_to(request.user).light().filter(pk=like).first()
    if row is None:
        return first
    return {
        **first,
        "starts": max(row.starts, today + timedelta(days=1)),
        "weeks": row.weeks,
        "farriers": [one.pk for one in row.farriers.all()],
        "may_move": row.may_move,
        "together": row.together,
        "seconds": row.seconds,
    }


def _proposal(request: HttpRequest, pk: UUID) -> Proposal:
    found = Proposal.objects.visible_to(request.user).defer("world", "travel")
    return access.get(found.prefetch_related("farriers"), pk=pk)


def _ready(request: HttpRequest, pk: UUID) -> Proposal:
    """A proposal with something to act on: 404 while it is still reckoned."""
    row = _proposal(request, pk)
    if row.state != Proposal.State.READY:
        raise Http404
    return row


@never_cache
@require_safe
@access.door(access.STAFF)
def proposal(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The weeks: map and calendar side by side; while reckoned, how far it is."""
    row = _proposal(request, pk)
    if row.state != Proposal.State.READY:
        page = {"proposal": row, **_progress(row)}
        return render(request, "scheduling/proposal_waits.html", page)
    return _page(request, row)


def _page(
    request: HttpRequest, row: Proposal, *, refusal: str = "", status: int = 200
) -> HttpResponse:
    viewer = access.member(request)
    picked = request.POST.get("visit") or request.GET.get("move", "")
    chosen = request.GET.get("round", "")
    view = select.viewed(row, chosen=chosen, visit=picked)
    page: dict[str, Any] = {
        "proposal": row,
        "view": view,
        "map": map_of_weeks(view, Practice.objects.the_one()),
        "step": select.last_step(row),
        "refusal": refusal,
        "today": timezone.localdate(),
        "may_act": viewer.keeps_books,
        "weighed": told(view.world.instance.weights),
    }
    if viewer.keeps_books and picked in view.world.jobs:
        job = view.world.jobs[picked]
        if not job.is_fixed and picked not in row.accepted:
            rows = choices(row, picked)
            page["moving"] = job
            page["target"] = view.world.instance.visit_by_id[picked].target
            page["choices"] = [one for one in rows if not one.refusal][:SHOWN_CHOICES]
            page["refused"] = [one for one in rows if one.refusal][:SHOWN_CHOICES]
            page["here"] = view.plan.shift_of(picked)
            page["order"] = _order(view, picked)
    return render(request, "scheduling/proposal.html", page, status=status)


def _order(view: select.ProposalView, visit: str) -> dict[str, Any]:
    """The places before and after in the visit's own round, if there are any."""
    here = view.plan.shift_of(visit)
    if here is None:
        return {}
    ids = list(view.plan.orders[here])
    at = ids.index(visit)
    return {
        "to": f"{here[0]} {here[1]}",
        "earlier": at - 1 if at else None,
        "later": at + 1 if at + 1 < len(ids) else None,
    }


@never_cache
@require_safe
@access.door(access.STAFF)
def progress(request: HttpRequest, pk: UUID) -> HttpResponse:
    """How far the search is, for the page to look again; done: where to go."""
    row = access.get(
        Proposal.objects.visible_to(request.user).light().defer("plan", "base"), pk=pk
    )
    page = {"proposal": row, **_progress(row)}
    answer = render(request, "scheduling/_proposal_progress.html", page)
    answer["X-Unfinished"] = "1" if row.is_unfinished else "0"
    return answer


def _progress(row: Proposal) -> dict[str, Any]:
    now = timezone.now()
    heard = row.beat_at or row.created_at
    return {
        "best": row.best,
        "is_silent": row.is_unfinished and now - heard > service.SILENT_FOR,
        "waits": row.state == Proposal.State.WAITING,
    }


@require_POST
@access.door(access.BOOKS)
def stop(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Ends the search; the best plan so far stays."""
    service.stop_proposal(proposal=_proposal(request, pk))
    return redirect("scheduling:proposal", pk=pk)


@require_POST
@access.door(access.BOOKS)
def drop(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Throws the proposal away."""
    service.drop_proposal(proposal=_proposal(request, pk))
    messages.success(request, "The proposal is gone; what was booked from it stays.")
    return redirect("scheduling:propose")


@never_cache
@require_safe
@access.door(access.BOOKS)
def costs(request: HttpRequest, pk: UUID) -> HttpResponse:
    """What one stop would cost on each day, for the page while it is dragged."""
    row = _ready(request, pk)
    try:
        rows = choices(row, request.GET.get("visit", ""))
    except KeyError:
        rows = []  # a page that is older than the proposal's plan
    told = [
        {
            "key": one.key,
            "drive": one.drive,
            "off": one.off,
            "cost": one.cost,
            "refusal": one.refusal,
            "here": one.is_here,
        }
        for one in rows
    ]
    return JsonResponse({"choices": told})


@require_POST
@access.door(access.BOOKS)
def move(request: HttpRequest, pk: UUID) -> HttpResponse:
    """One stop to another day or place."""
    row = _ready(request, pk)
    form = MoveForm(request.POST)
    if not form.is_valid():
        return _page(request, row, refusal=_first_error(form), status=422)
    day, farrier = form.cleaned_data["to"]
    visit = form.cleaned_data["visit"]
    try:
        moving.move_visit(
            proposal=row,
            visit=visit,
            day=day,
            farrier=farrier,
            position=form.cleaned_data["position"],
            by=access.member(request),
        )
    except Refused as refusal:
        return _page(request, row, refusal=refusal.sentence, status=422)
    return _back(pk, f"{day} {farrier}" if day else "", f"#stop-{visit}")


@require_POST
@access.door(access.BOOKS)
def accept(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Takes the proposal over: whole, one day, or one stop."""
    row = _ready(request, pk)
    form = AcceptForm(request.POST)
    if not form.is_valid():
        return _page(request, row, refusal=_first_error(form), status=422)
    said = form.cleaned_data
    try:
        done = accepting.accept(
            proposal=row,
            by=access.member(request),
            today=timezone.localdate(),
            days=[said["day"]] if said["what"] == "day" and said["day"] else None,
            visits=[said["visit"]] if said["what"] == "stop" else None,
        )
    except Refused as refusal:
        row = _ready(request, pk)
        return _page(request, row, refusal=refusal.sentence, status=422)
    if done.stops:
        many = "stop is" if done.stops == 1 else "stops are"
        messages.success(request, f"{done.stops} {many} booked, pencilled.")
    else:
        messages.info(request, "Nothing was left to accept there.")
    day = said["day"]
    return _back(pk, f"{day[0]} {day[1]}" if day else "", "#weeks")


@require_POST
@access.door(access.BOOKS)
def undo(request: HttpRequest, pk: UUID, step: int) -> HttpResponse:
    """Takes the last move or acceptance back."""
    row = _proposal(request, pk)
    found = access.get(ProposalStep.objects.filter(proposal=row), pk=step)
    try:
        if found.kind == ProposalStep.Kind.ACCEPTED:
            undoing.undo_accept(
                step=found, by=access.member(request), today=timezone.localdate()
            )
        else:
            moving.undo_move(step=found)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"Taken back: {found.said}.")
    return _back(pk, "", "#weeks")


def _back(pk: UUID, place: str, anchor: str) -> HttpResponse:
    address = reverse("scheduling:proposal", args=[pk])
    query = f"?round={place.replace(' ', '+')}" if place else ""
    return redirect(f"{address}{query}{anchor}")


def _first_error(form: Any) -> str:
    return str(next(iter(form.errors.values()))[0])

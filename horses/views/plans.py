"""Foot plans: made, looked at while made, accepted; two years of a foot."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
)

from horses.drawing.plan import PlanPicture
from horses.forms.plans import FITTINGS, AcceptForm, PlanForm, as_typed
from horses.hoof import FEET, FOOT_NAMES, Foot
from horses.landmarks.solar import SolarOutline
from horses.models import FootPlan, Horse, Photo, VisitRecord
from horses.selectors import plans as selectors
from horses.services.plans import (
    Fittings,
    VetWord,
    accept_plan,
    drop_plan,
    reckoned,
    save_plan,
)
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.keys import uuid7
from practice.models import Practice


@dataclass(frozen=True, slots=True)
class Sketch:
    """A plan as typed so far: drawn and reckoned, or why it can't be."""

    form: PlanForm
    answer: dict[str, Any] | None
    picture: PlanPicture | None


@dataclass(frozen=True, slots=True)
class Source:
    """The photo whose marks were asked for, and the outline if they give one."""

    photo: Photo
    outline: SolarOutline | None


def _source(request: HttpRequest, horse: Horse, foot: Foot) -> Source | None:
    """The photo named in the address; its marks count where it shows this foot."""
    if not (named := request.GET.get("photo")):
        return None
    try:
        pk = UUID(named)
    except ValueError as error:
        raise Http404 from error
    rows = Photo.objects.visible_to(request.user)
    photo = access.get(rows.select_related("record__visit"), pk=pk)
    is_of_it = photo.record.horse_id == horse.pk and photo.foot == foot
    return Source(photo, selectors.outline_of(photo) if is_of_it else None)


def _horse(request: HttpRequest, pk: int) -> Horse:
    return access.get(Horse.objects.visible_to(request.user), pk=pk)


def _plan(request: HttpRequest, pk: UUID) -> FootPlan:
    return access.get(selectors.plans_for(access.member(request)), pk=pk)


def _foot(foot: str) -> Foot:
    found = next((known for known in FEET if known == foot), None)
    if found is None:
        raise Http404
    return found


def _practice(request: HttpRequest) -> Practice:
    """The practice that the middleware put on the request."""
    practice = getattr(request, "practice", None)
    return practice if isinstance(practice, Practice) else Practice.objects.the_one()


def _unit(request: HttpRequest) -> Any:
    return _practice(request).length_unit


def _sketch(request: HttpRequest, form: PlanForm, horse: Horse, foot: Foot) -> Sketch:
    """What the typed plan comes to with what is now recorded of the foot."""
    if not form.is_valid():
        return Sketch(form, None, None)
    document = form.document(foot, use=horse.use)
    document["findings"] = selectors.seen_lately(
        horse=horse, foot=foot, today=timezone.localdate()
    )
    try:
        answer = reckoned(document, _practice(request))
    except Refused as refused:
        form.take_up(refused.field, refused.sentence)
        return Sketch(form, None, None)
    before = None
    if form.cleaned_data["overlay"]:
        before = selectors.last_plan(horse=horse, foot=foot)
    held = before.result if before else None
    clips = form.cleaned_data["clips"]
    return Sketch(form, answer, PlanPicture(document, answer, held, clips))


@require_GET
@access.door(access.STAFF)
def plans(request: HttpRequest, pk: int) -> HttpResponse:
    """The plans of a horse's four feet, with two years of each."""
    horse = _horse(request, pk)
    stories = selectors.foot_stories(
        horse=horse, viewer=access.member(request), today=timezone.localdate()
    )
    page = {"horse": horse, "stories": stories}
    return render(request, "horses/plans.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.FARRIER)
def plan_new(request: HttpRequest, pk: int, foot: str) -> HttpResponse:
    """A new plan of one foot, started from its last measures and the last plan."""
    horse, which = _horse(request, pk), _foot(foot)
    if request.method == "POST":
        return _keep(request, horse, which)
    source = _source(request, horse, which)
    start = selectors.start_of(
        horse=horse,
        foot=which,
        use=horse.use,
        today=timezone.localdate(),
        outline=source.outline if source else None,
    )
    typed = as_typed(start.document, _unit(request))
    typed |= {"key": uuid7(), "record": request.GET.get("record", "")}
    if before := selectors.last_plan(horse=horse, foot=which):
        typed |= {name: getattr(before, name) for name in FITTINGS}
    return _page(
        request, horse, which, typed, unmeasured=start.unmeasured, source=source
    )


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.FARRIER)
def plan_edit(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Mends a draft."""
    plan = _plan(request, pk)
    if not plan.is_draft:
        return redirect("horses:plan", pk=plan.pk)
    foot = _foot(plan.foot)
    if request.method == "POST":
        return _keep(request, plan.horse, foot, plan)
    typed = as_typed(plan.document, _unit(request))
    typed |= {"key": plan.pk, "record": plan.record_id or "", "note": plan.note}
    typed |= {name: getattr(plan, name) for name in FITTINGS}
    return _page(request, plan.horse, foot, typed, plan=plan)


def _page(
    request: HttpRequest,
    horse: Horse,
    foot: Foot,
    typed: Any,
    *,
    plan: FootPlan | None = None,
    sketch: Sketch | None = None,
    unmeasured: tuple[str, ...] = (),
    source: Source | None = None,
    status: int = 200,
) -> HttpResponse:
    """The form with its picture; the form is bound always, to what stands in it."""
    form = PlanForm(typed, unit=_unit(request))
    sketch = sketch or _sketch(request, form, horse, foot)
    page = {
        "horse": horse,
        "foot": foot,
        "name": FOOT_NAMES[foot],
        "plan": plan,
        "form": sketch.form,
        "sketch": sketch,
        "unmeasured": unmeasured,
        "source": source,
        "has_before": selectors.last_plan(horse=horse, foot=foot) is not None,
    }
    return render(request, "horses/plan_form.html", page, status=status)


def _keep(
    request: HttpRequest, horse: Horse, foot: Foot, plan: FootPlan | None = None
) -> HttpResponse:
    """Reckons what was typed, and keeps it as a draft unless only that was asked."""
    form = PlanForm(request.POST, unit=_unit(request))
    sketch = _sketch(request, form, horse, foot)
    if sketch.answer is None or "reckon" in request.POST:
        status = 200 if sketch.answer is not None else 422
        return _page(
            request, horse, foot, request.POST, plan=plan, sketch=sketch, status=status
        )
    try:
        kept = save_plan(
            key=plan.pk if plan else form.made_key or uuid7(),
            horse=horse,
            foot=foot,
            day=plan.day if plan else timezone.localdate(),
            document=form.document(foot, use=horse.use),
            record=plan.record if plan else _record(request, form, horse),
            note=form.cleaned_data["note"],
            fittings=Fittings(**form.fittings()),
            by=access.member(request),
        )
    except Refused as refused:
        form.take_up(refused.field, refused.sentence)
        return _page(
            request, horse, foot, request.POST, plan=plan, sketch=sketch, status=422
        )
    messages.success(request, "Kept as a draft.")
    return redirect("horses:plan", pk=kept.pk)


def _record(request: HttpRequest, form: PlanForm, horse: Horse) -> VisitRecord | None:
    """The record that it was started from, if it is one of this horse."""
    key = form.cleaned_data.get("record")
    rows = VisitRecord.objects.visible_to(request.user).filter(horse=horse)
    return rows.filter(pk=key).first() if key else None


@require_POST
@access.door(access.FARRIER)
def plan_look(request: HttpRequest, pk: int, foot: str) -> HttpResponse:
    """The plan as typed so far, drawn and reckoned; nothing is saved."""
    horse, which = _horse(request, pk), _foot(foot)
    form = PlanForm(request.POST, unit=_unit(request))
    page = {"sketch": _sketch(request, form, horse, which), "form": form}
    return render(request, "horses/_plan_look.html", page)


def _told(
    request: HttpRequest, plan: FootPlan, form: AcceptForm, status: int = 200
) -> HttpResponse:
    before = (
        FootPlan.objects.filter(horse=plan.horse_id, foot=plan.foot)
        .settled()
        .exclude(pk=plan.pk)
        .filter(day__lte=plan.day)
        .first()
    )
    page = {
        "plan": plan,
        "name": FOOT_NAMES[_foot(plan.foot)],
        "picture": selectors.picture_of(plan),
        "before": before,
        "held": selectors.picture_of(plan, before) if before else None,
        "accept_form": form,
        "waits": any(flag["code"] == "waits_for_vet" for flag in plan.flags),
        "refused": any(
            flag["state"] == "refused" and flag["code"] != "waits_for_vet"
            for flag in plan.flags
        ),
    }
    return render(request, "horses/plan.html", page, status=status)


@require_GET
@access.door(access.STAFF)
def plan(request: HttpRequest, pk: UUID) -> HttpResponse:
    """One plan: its picture, what it comes to, and the way to accept it."""
    return _told(request, _plan(request, pk), AcceptForm())


@require_POST
@access.door(access.FARRIER)
def plan_accept(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Accepts a draft."""
    row = _plan(request, pk)
    form = AcceptForm(request.POST)
    if form.is_valid():
        said = form.cleaned_data
        vet = VetWord(said["vet_name"], said["vet_day"]) if said["vet_agreed"] else None
        try:
            accept_plan(
                plan=row, by=access.member(request), today=timezone.localdate(), vet=vet
            )
            messages.success(request, f"{row.foot}: the plan is accepted.")
            return redirect("horses:plan", pk=row.pk)
        except Refused as refused:
            say(form, refused)
    return _told(request, _plan(request, pk), form, status=422)


@require_POST
@access.door(access.FARRIER)
def plan_drop(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Throws a draft away."""
    row = _plan(request, pk)
    try:
        drop_plan(plan=row, by=access.member(request))
        messages.success(request, "The draft is gone.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("horses:plans", pk=row.horse_id)

"""Where drives come from, what the days teach, the road map."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from horses.models import Horse, Work
from horses.services.works import change_work
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Practice
from scheduling.forms.driving import OdometerForm, PaceForm, RoadMapForm, shown
from scheduling.models import DrivenRoad, RoadMap
from scheduling.selectors.driving import driving_page, road_maps
from scheduling.selectors.underway import taught
from scheduling.services import roadmaps, travel
from scheduling.services.handling import set_minutes

MOST_TYPED = 4


def _page(
    request: HttpRequest,
    *,
    form: PaceForm | None = None,
    upload: RoadMapForm | None = None,
    typed: tuple[int, OdometerForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    told = driving_page()
    page = {
        "page": told,
        "form": form or PaceForm(initial=shown(told.pace)),
        "proposed": shown(told.calibration.pace),
        "upload": upload or RoadMapForm(),
        "typed": typed,
    }
    return render(request, "scheduling/driving.html", page, status=status)


@require_safe
@access.door(access.STAFF)
def driving(request: HttpRequest) -> HttpResponse:
    """Where each figure comes from."""
    return _page(request)


@require_POST
@access.door(access.BOOKS)
def set_pace(request: HttpRequest) -> HttpResponse:
    """Takes up a pace, typed or as proposed."""
    form = PaceForm(request.POST)
    if not form.is_valid():
        return _page(request, form=form, status=422)
    travel.set_pace(
        pace=form.pace(),
        drives=form.cleaned_data["drives"] or 0,
        roads=form.cleaned_data["road_count"] or 0,
        by=access.member(request),
    )
    messages.success(request, "Drives are estimated like this from now on.")
    return redirect("scheduling:driving")


@require_POST
@access.door(access.BOOKS)
def road_map(request: HttpRequest) -> HttpResponse:
    """Takes an extract; the worker reads it."""
    upload = RoadMapForm(request.POST, request.FILES)
    if upload.is_valid():
        file = upload.cleaned_data["file"]
        try:
            roadmaps.receive_map(
                name=file.name, upload=file.file, by=access.member(request)
            )
        except Refused as refusal:
            say(upload, refusal)
        else:
            messages.success(request, "The road map is being read.")
            return redirect("scheduling:driving")
    return _page(request, upload=upload, status=422)


@never_cache
@require_safe
@access.door(access.STAFF)
def road_map_progress(request: HttpRequest) -> HttpResponse:
    """How far the reading is, for the page to look again."""
    maps = road_maps()
    answer = render(request, "scheduling/_road_maps.html", {"maps": maps})
    is_reading = any(one.is_unfinished for one in maps)
    answer["X-Unfinished"] = "1" if is_reading else "0"
    return answer


@require_POST
@access.door(access.BOOKS)
def drop_map(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Takes a road map away."""
    found = access.get(RoadMap.objects.all(), pk=pk)
    roadmaps.drop_map(road_map=found, by=access.member(request))
    messages.success(request, "The road map is gone.")
    return redirect("scheduling:driving")


@require_POST
@access.door(access.BOOKS)
def ask_anew(request: HttpRequest) -> HttpResponse:
    """Drops what was kept and has the worker ask for all drives again."""
    travel.forget_drives(by=access.member(request))
    roadmaps.queue_fetch()
    messages.success(request, "The drives are asked for anew; it takes a while.")
    return redirect("scheduling:driving")


@require_POST
@access.door(access.BOOKS)
def leave_out(request: HttpRequest, pk: int, way: str) -> HttpResponse:
    """A drive that teaches nothing, or does so again."""
    if way not in ("out", "in"):
        raise Http404
    drive = access.get(DrivenRoad.objects.all(), pk=pk)
    travel.leave_drive_out(drive=drive, out=way == "out", by=access.member(request))
    return redirect("scheduling:driving")


@require_POST
@access.door(access.BOOKS)
def odometer(request: HttpRequest, pk: int) -> HttpResponse:
    """How long the road of a drive was. A figure that is none is told, and kept in its
    field."""
    drive = access.get(DrivenRoad.objects.all(), pk=pk)
    miles = Practice.objects.the_one().road_unit == Practice.RoadUnit.MI
    form = OdometerForm(request.POST, system="imperial" if miles else "metric")
    if form.is_valid():
        try:
            travel.keep_odometer(
                drive=drive, metres=form.cleaned_data["road"], by=access.member(request)
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Kept.")
            return redirect("scheduling:driving")
    return _page(request, typed=(drive.pk, form), status=422)


@require_safe
@access.door(access.STAFF)
def learning(request: HttpRequest) -> HttpResponse:
    """What the days teach of the minutes of works, and of single horses."""
    found = taught(today=timezone.localdate())
    page = {
        "rows": [(work, one, round(one.median)) for work, one in found.works],
        "horses": [
            (horse, work, one, max(5, round(one.median)))
            for horse, work, one in found.horses
        ],
    }
    return render(request, "scheduling/learning.html", page)


@require_POST
@access.door(access.BOOKS)
def take_lesson(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes up the minutes that were shown for a work."""
    work = access.get(Work.objects.visible_to(request.user), pk=pk)
    try:
        minutes = _typed_minutes(request)
        change_work(work=work, by=access.member(request), minutes=minutes)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"{work.name} is planned with {minutes} minutes.")
    return redirect("scheduling:learning")


@require_POST
@access.door(access.BOOKS)
def take_horse_lesson(request: HttpRequest, pk: int, horse: int) -> HttpResponse:
    """Takes up the minutes that were shown for a work at one horse."""
    work = access.get(Work.objects.visible_to(request.user), pk=pk)
    found = access.get(Horse.objects.visible_to(request.user), pk=horse)
    try:
        minutes = _typed_minutes(request)
        set_minutes(horse=found, work=work, minutes=minutes, by=access.member(request))
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        said = f"{found.name} is planned with {minutes} minutes for {work.name}."
        messages.success(request, said)
    return redirect("scheduling:learning")


def _typed_minutes(request: HttpRequest) -> int:
    typed = request.POST.get("minutes", "")
    if not (typed.isascii() and typed.isdigit() and len(typed) <= MOST_TYPED):
        raise Refused("Give whole minutes.")
    return int(typed)

"""Areas: their year, proposed from drives or drawn, and what a new client would add."""

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
from practice.forms.answers import say
from practice.geo import BadPosition, parse_position
from practice.models import Area, Barn
from scheduling.forms.areas import ApartForm, NamesForm, NewcomerForm
from scheduling.forms.outlines import DrawForm
from scheduling.selectors import areas as selector
from scheduling.selectors import outlines, pinning
from scheduling.selectors.newcomer import newcomer as cost_of_newcomer
from scheduling.services.areas import Drawn, take_areas, take_into
from scheduling.services.areas import draw_area as keep_drawn


@require_safe
@access.door(access.STAFF)
def area_years(request: HttpRequest) -> HttpResponse:
    """Each area's barns, days, load and driving over the last twelve months."""
    page = {
        "years": selector.years(today=timezone.localdate()),
        "waiting": outlines.waiting(),
    }
    return render(request, "scheduling/areas.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def propose_areas(request: HttpRequest) -> HttpResponse:
    """Barns that lie near each other, to be named; POST takes the named ones up."""
    posted = request.method == "POST"
    asked = request.POST if posted else request.GET
    typed = asked.get("apart")
    form = ApartForm({"apart": typed}) if typed else None
    valid = form is None or form.is_valid()
    found = selector.proposed_areas(
        form.cleaned_data["apart"] if form and valid else None
    )
    first = {one.number: one.name for one in found.areas}
    names = NamesForm(
        request.POST if posted else None, names=first, initial={"apart": found.apart}
    )
    if posted and valid and names.is_valid():
        barns = {one.number: one.barns for one in found.areas}
        named: dict[str, list[Barn]] = {}
        for number, name in names.named().items():
            named.setdefault(name, []).extend(barns[number])
        try:
            changed = take_areas(named=named, by=access.member(request))
        except Refused as refusal:
            say(names, refusal)
        else:
            word = "barn is" if changed == 1 else "barns are"
            messages.success(request, f"{changed} {word} in another area now.")
            return redirect("scheduling:areas")
    rows = [(one, names[f"name_{one.number}"]) for one in found.areas]
    shown = form or ApartForm({"apart": found.apart})
    page = {"form": shown, "names": names, "rows": rows, "map": found.map}
    bad = not valid or (posted and bool(names.errors))
    status = 422 if bad else 200
    return render(request, "scheduling/propose_areas.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def draw_area(request: HttpRequest) -> HttpResponse:
    """An area drawn on the map or ticked in a list. ``area``: one that is there, else a
    new one. POST keeps it; with ``look`` it only shows the page again, with nothing
    lost: sorted anew, or with an outline round what is ticked, or with none."""
    asked = request.POST if request.method == "POST" else request.GET
    key = asked.get("area")
    area = access.get(Area.objects.all(), pk=key) if key else None
    barns = outlines.barns_to_draw()
    form = DrawForm(request.POST or None, barns=barns, initial=_as_kept(area, barns))
    look = request.POST.get("look")
    if form.is_valid() and not look:
        said = form.cleaned_data
        try:
            drawn = keep_drawn(
                name=said["name"],
                barns=form.ticked(),
                by=access.member(request),
                area=area,
                leaving=form.leaving(),
                outline=said["outline"],
                from_others=said["from_others"] == "come",
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, _came_of(drawn))
            return redirect("scheduling:areas")
    if look:
        form = DrawForm(barns=barns, initial=_looked_at(form, barns, look))
    return _drawing_page(request, form, barns, area)


def _as_kept(area: Area | None, barns: list[Barn]) -> dict[str, object]:
    """What the form starts with; barns in no area that lie inside are ticked."""
    first: dict[str, object] = {"from_others": "come", "order": outlines.BY_HOME}
    if area is None:
        return first
    outline = outlines.outline_of(area)
    return {
        **first,
        "name": area.name,
        "outline": outline,
        "barns": outlines.belonging(area, barns, outline),
        "was": " ".join(str(barn.pk) for barn in barns if barn.area_id == area.pk),
    }


def _looked_at(form: DrawForm, barns: list[Barn], look: str) -> dict[str, object]:
    """What was typed, as the start of a fresh form."""
    said = {**form.cleaned_data, "barns": form.ticked()}
    said["name"] = form["name"].value()
    if look == "round":
        said["outline"] = outlines.round_the_ticked(barns, form.ticked())
    elif look == "none":
        said["outline"] = ()
    return said


def _drawing_page(
    request: HttpRequest, form: DrawForm, barns: list[Barn], area: Area | None
) -> HttpResponse:
    said = dict(form.initial)
    if form.is_bound:
        said = {**form.cleaned_data, "barns": form.ticked()}
    page = {
        "form": form,
        "area": area,
        "drawn": outlines.drawing(
            barns=barns,
            area=area,
            ticked=said.get("barns") or (),
            outline=said.get("outline") or (),
            order=said.get("order") or outlines.BY_HOME,
        ),
    }
    status = 422 if form.errors else 200
    return render(request, "scheduling/draw_area.html", page, status=status)


def _came_of(drawn: Drawn) -> str:
    counts = {
        "came in": drawn.joined,
        "went out": drawn.left,
        "stayed in another area": drawn.elsewhere,
    }
    said = [f"{count} {word}" for word, count in counts.items() if count]
    barns = f" Barns: {', '.join(said)}." if said else ""
    return f"{drawn.area.name} is kept.{barns}"


@require_safe
@access.door(access.BOOKS)
def areas_round_piece(request: HttpRequest, pk: int) -> HttpResponse:
    """For the page of a barn in no area: whose outline it lies in."""
    barn = access.get(Barn.objects.visible_to(request.user), pk=pk)
    page = {"barn": barn, "areas": outlines.areas_round(barn)}
    return render(request, "scheduling/_areas_round.html", page)


@require_POST
@access.door(access.BOOKS)
def take_in(request: HttpRequest, pk: int, area: int) -> HttpResponse:
    """Puts a barn that is in no area into one whose outline it lies in."""
    barn = access.get(Barn.objects.visible_to(request.user), pk=pk)
    wanted = access.get(Area.objects.all(), pk=area)
    if take_into(barn=barn, area=wanted, by=access.member(request)):
        messages.success(request, f"{barn.name} is in {wanted.name} now.")
    else:
        messages.error(request, f"{barn.name} is in another area already.")
    return redirect("practice:barn", pk=pk)


@require_safe
@access.door(access.BOOKS)
def pin_map(request: HttpRequest) -> HttpResponse:
    """For a barn's form: the map on which its position is put. ``at``: about where,
    ``reach``: how much land in km, ``barn``: the one that is put."""
    try:
        at = parse_position(request.GET.get("at", ""))
    except BadPosition:
        at = None
    found = pinning.pin_map(
        at=at,
        reach=_small_number(request.GET.get("reach", "")),
        but=_small_number(request.GET.get("barn", "")),
    )
    return render(request, "scheduling/_pin_map.html", {"pin": found})


def _small_number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else None


@require_safe
@access.door(access.BOOKS)
def newcomer(request: HttpRequest) -> HttpResponse:
    """What a new client at a place would add in driving, before saying yes."""
    asked = {"position", "post_code", "barn"} & {
        name for name, value in request.GET.items() if value
    }
    form = NewcomerForm(_with_usual(request) if asked else None)
    found = None
    if asked and form.is_valid():
        said = form.cleaned_data
        found = cost_of_newcomer(
            at=said["at"],
            horses=said["horses"],
            minutes=said["minutes"],
            interval_weeks=said["interval_weeks"],
            today=timezone.localdate(),
        )
    page = {"form": form, "found": found, "asked": bool(asked) and form.is_valid()}
    status = 422 if form.errors else 200
    return render(request, "scheduling/newcomer.html", page, status=status)


def _with_usual(request: HttpRequest) -> dict[str, str]:
    """What was asked, with the usual where nothing was said (a link from a barn)."""
    usual = {"horses": "1", "minutes": "45", "interval_weeks": "6"}
    given = {name: str(value) for name, value in request.GET.items()}
    return {**usual, **given}

"""Areas: their year, a proposal from drives, and what a new client would add."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Barn
from scheduling.forms.areas import ApartForm, NamesForm, NewcomerForm
from scheduling.selectors import areas as selector
from scheduling.selectors.newcomer import newcomer as cost_of_newcomer
from scheduling.services.areas import take_areas


@require_safe
@access.door(access.STAFF)
def area_years(request: HttpRequest) -> HttpResponse:
    """Each area's barns, days, load and driving over the last twelve months."""
    page = {"years": selector.years(today=timezone.localdate())}
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

"""Barns and areas: list, page, form."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.forms.barns import AreaForm, BarnForm
from practice.geo import plus_code
from practice.keys import uuid7
from practice.models import Area, Barn, Practice, User
from practice.selectors import barns_with, home_of, position_of, way_from_home
from practice.services.barns import (
    Hours,
    add_barn,
    change_barn,
    name_area,
    remove_area,
    set_barn_active,
)

ON_A_PAGE = 50


@require_safe
@access.door(access.STAFF)
def barns(request: HttpRequest) -> HttpResponse:
    """Barns by name, of one area, or those without a position."""
    asked: dict[str, Any] = {
        "words": request.GET.get("q", "")[:100],
        "area": request.GET.get("area", ""),
        "aside": "aside" in request.GET,
        "no_position": "no_position" in request.GET,
    }
    visible = Barn.objects.visible_to(request.user)
    page = Paginator(barns_with(visible, **asked), ON_A_PAGE).get_page(
        request.GET.get("page")
    )
    practice = _practice(request)
    told = {
        **asked,
        "page": page,
        "rows": [(barn, way_from_home(barn, practice)) for barn in page],
        "areas": Area.objects.all(),
        "without": visible.active().filter(latitude=None).count(),
    }
    return render(request, "practice/barns.html", told)


@require_safe
@access.door(access.STAFF)
def barn(request: HttpRequest, pk: int) -> HttpResponse:
    """One barn: where it is, when it can be attended, who is asked."""
    visible = Barn.objects.visible_to(request.user).select_related("area", "run_by")
    found = access.get(visible, pk=pk)
    position = position_of(found)
    told = {
        "barn": found,
        "code": plus_code(position) if position else "",
        "way": way_from_home(found, _practice(request)),
        "hours": found.access_hours.all(),
        "contacts": User.objects.filter(barn_duties__barn=found, is_active=True),
    }
    return render(request, "practice/barn.html", told)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def barn_add(request: HttpRequest) -> HttpResponse:
    """A new barn."""
    practice = _practice(request)
    initial = {"key": uuid7(), "country": practice.country if practice else ""}
    if request.GET.get("run_by", "").isdecimal():
        initial["run_by"] = request.GET["run_by"]
    form = BarnForm(request.POST or None, initial=initial, home=home_of(practice))
    if request.method == "POST" and form.is_valid():
        try:
            made = add_barn(
                by=access.member(request),
                key=form.cleaned_data["key"],
                hours=[Hours(*row) for row in form.times_given()],
                **form.answers(),
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{made.name} is added.")
            return redirect("practice:barn", pk=made.pk)
    return _form(request, form)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def barn_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """A barn's form."""
    found = access.get(Barn.objects.visible_to(request.user), pk=pk)
    form = BarnForm(
        request.POST or None,
        initial=BarnForm.values_of(found, position_of(found)),
        home=home_of(_practice(request)),
    )
    if request.method == "POST" and form.is_valid():
        try:
            change_barn(
                barn=found,
                by=access.member(request),
                hours=[Hours(*row) for row in form.times_given()],
                **form.answers(),
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Saved.")
            return redirect("practice:barn", pk=found.pk)
    return _form(request, form, barn=found)


def _form(request: HttpRequest, form: BarnForm, **told: Any) -> HttpResponse:
    status = 422 if form.is_bound else 200
    told["form"] = form
    return render(request, "practice/barn_form.html", told, status=status)


@require_POST
@access.door(access.BOOKS)
def barn_aside(request: HttpRequest, pk: int) -> HttpResponse:
    """Puts a barn aside, or (``active=yes``) brings one back."""
    found = access.get(Barn.objects.visible_to(request.user), pk=pk)
    active = request.POST.get("active") == "yes"
    set_barn_active(barn=found, active=active, by=access.member(request))
    return redirect("practice:barn", pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def areas(request: HttpRequest) -> HttpResponse:
    """Areas with their barns counted; a new one is added here."""
    form = AreaForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            name_area(by=access.member(request), **form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            return redirect("practice:areas")
    told = {"form": form, "areas": _areas_counted()}
    status = 422 if form.is_bound else 200
    return render(request, "practice/areas.html", told, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def area(request: HttpRequest, pk: int) -> HttpResponse:
    """An area's name; ``remove`` takes the area away and leaves its barns."""
    found = access.get(Area.objects.all(), pk=pk)
    form = AreaForm(request.POST or None, initial={"name": found.name})
    if "remove" in request.POST:
        remove_area(area=found, by=access.member(request))
        messages.success(request, f"{found.name} is removed. Its barns stay.")
        return redirect("practice:areas")
    if request.method == "POST" and form.is_valid():
        try:
            name_area(area=found, by=access.member(request), **form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            return redirect("practice:areas")
    told = {"form": form, "area": found}
    status = 422 if form.is_bound else 200
    return render(request, "practice/area.html", told, status=status)


def _areas_counted() -> QuerySet[Area]:
    active = Q(barns__is_active=True)
    return Area.objects.annotate(barn_count=Count("barns", filter=active))


def _practice(request: HttpRequest) -> Practice | None:
    practice: Practice | None = getattr(request, "practice", None)
    return practice

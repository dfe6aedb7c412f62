"""Opening a practice: in an empty house, or from the demo."""

from typing import Any

from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from practice import access, countries
from practice.errors import Refused
from practice.forms.answers import say
from practice.forms.start import StartForm, StartOwnForm
from practice.models import Practice
from practice.services.practice import open_practice, start_own_practice
from practice.views.sign_in import BACKEND


@sensitive_post_parameters("farrier_password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.PUBLIC)
def start(request: HttpRequest) -> HttpResponse:
    """The first page of an empty house. Once there is a practice, it is shut."""
    if Practice.objects.exists():
        return redirect("practice:home")
    form = StartForm(request.POST or None, initial={"country": _country_of(request)})
    return _open(request, form, open_practice)


@sensitive_post_parameters("farrier_password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.HEAD)
def start_own(request: HttpRequest) -> HttpResponse:
    """The same from the demo, which is erased by it."""
    if not Practice.objects.filter(is_demo=True).exists():
        return redirect("practice:settings")
    form = StartOwnForm(request.POST or None, initial={"country": _country_of(request)})
    return _open(request, form, start_own_practice)


def _country_of(request: HttpRequest) -> str:
    """The country that the browser's languages name first (``en-IE`` → IE), or GB."""
    for tag in request.headers.get("Accept-Language", "").split(","):
        region = tag.split(";")[0].strip().rpartition("-")[2].upper()
        if "-" in tag and region in countries.COUNTRIES:
            return region
    return "GB"


def _open(request: HttpRequest, form: StartForm, service: Any) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        try:
            farrier = service(**form.answers())
        except Refused as refusal:
            say(form, refusal)
        else:
            login(request, farrier, backend=BACKEND)
            return redirect("practice:started")
    page = {
        "form": form,
        "leaves_demo": isinstance(form, StartOwnForm),
        "proposals": [*countries.COUNTRIES.values(), countries.ELSEWHERE],
    }
    status = 422 if form.is_bound else 200
    return render(request, "practice/start.html", page, status=status)


@require_safe
@access.door(access.HEAD)
def started(request: HttpRequest) -> HttpResponse:
    """What to do next in a practice that has just begun."""
    return render(request, "practice/started.html")

"""The practice's settings, a section a page."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.forms.practice import SECTIONS
from practice.languages import NAMES
from practice.models import Practice
from practice.services.practice import change_practice


@require_safe
@access.door(access.HEAD)
def settings_page(request: HttpRequest) -> HttpResponse:
    """All settings as they stand, each section with its way to change it."""
    practice = Practice.objects.filter(pk=1).first()
    told = {"language": NAMES[practice.language_to(None)] if practice else ""}
    return render(request, "practice/settings.html", told)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.HEAD)
def settings_section(request: HttpRequest, section: str) -> HttpResponse:
    """One section's form."""
    kind = SECTIONS.get(section)
    if kind is None:
        raise Http404
    practice = Practice.objects.the_one()
    form = kind(request.POST or None, initial=kind.values_of(practice))
    if request.method == "POST" and form.is_valid():
        try:
            change_practice(by=access.member(request), **form.answers())
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{kind.title}: saved.")
            return redirect("practice:settings")
    page = {"form": form, "section": section}
    status = 422 if form.is_bound else 200
    return render(request, "practice/settings_section.html", page, status=status)

"""The kinds of work and their minutes."""

from uuid import uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from horses.forms.works import NewWorkForm, WorkForm
from horses.models import Work
from horses.services.works import change_work, create_work
from practice import access
from practice.errors import Refused
from practice.forms.answers import say


@require_GET
@access.door(access.STAFF)
def works(request: HttpRequest) -> HttpResponse:
    """The kinds of work in their order, with the minutes that a horse takes."""
    rows = Work.objects.visible_to(request.user)
    return render(request, "horses/works.html", {"works": rows})


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def work_add(request: HttpRequest) -> HttpResponse:
    """Adds a kind of work."""
    form = NewWorkForm(request.POST or None, initial={"key": uuid4()})
    if request.method == "POST" and form.is_valid():
        try:
            work = create_work(by=access.member(request), **form.cleaned_data)
            messages.success(request, f"{work.name} is added.")
            return redirect("horses:works")
        except Refused as refusal:
            say(form, refusal)
    status = 422 if form.is_bound else 200
    page = {"form": form, "work": None}
    return render(request, "horses/work_form.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def work_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Changes a kind of work."""
    work = access.get(Work.objects.visible_to(request.user), pk=pk)
    shown = {name: getattr(work, name) for name in WorkForm.base_fields}
    form = WorkForm(request.POST or None, initial=shown)
    if request.method == "POST" and form.is_valid():
        try:
            change_work(work=work, by=access.member(request), **form.cleaned_data)
            messages.success(request, f"{work.name}: saved.")
            return redirect("horses:works")
        except Refused as refusal:
            say(form, refusal)
    status = 422 if form.is_bound else 200
    page = {"form": form, "work": work}
    return render(request, "horses/work_form.html", page, status=status)

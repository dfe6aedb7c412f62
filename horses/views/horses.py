"""The list of horses, a horse's page, and the form behind both."""

from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from horses.forms.horses import HorseFilterForm, HorseForm, NewHorseForm, as_typed
from horses.forms.intervals import LeftToForm
from horses.models import Horse, Work
from horses.selectors import horses as selectors
from horses.selectors.due_story import due_story
from horses.selectors.limbs import limbs_on
from horses.services.register import change_horse, create_horse
from horses.views.story import story
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Barn, Client, Practice

A_PAGE = 50


@require_GET
@access.door(access.STAFF)
def horses(request: HttpRequest) -> HttpResponse:
    """The practice's horses: searched, narrowed by barn and status, in pages."""
    barns = Barn.objects.visible_to(request.user)
    form = HorseFilterForm(request.GET, barns=barns)
    form.is_valid()
    chosen = form.cleaned_data
    rows = selectors.listed(
        viewer=request.user,
        today=timezone.localdate(),
        search=chosen.get("search", ""),
        barn=chosen.get("barn"),
        status=chosen.get("status") or Horse.Status.ACTIVE,
    )
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    shown = {
        "page": page,
        "form": form,
        "is_narrowed": any(chosen.values()),
        "today": timezone.localdate(),
    }
    return render(request, "horses/horses.html", shown)


@require_GET
@access.door(access.STAFF)
def horse(request: HttpRequest, pk: int) -> HttpResponse:
    """All that the practice knows of a horse, and what its feet come to if they are left
    to a day that is asked for (``to``)."""
    rows = Horse.objects.visible_to(request.user).select_related(
        "barn", "usual_work", "interval_policy"
    )
    row = access.get(rows, pk=pk)
    today = timezone.localdate()
    file = selectors.horse_file(row, today=today)
    last = file.due.last_visit_day if file.due else None
    asked = request.GET if "to" in request.GET else None
    form = LeftToForm(asked, last_visit=last)
    to = form.cleaned_data["to"] if form.is_valid() else None
    page = {
        "horse": row,
        "file": file,
        "story": due_story(row, today=today, left_to_day=to) if file.due else None,
        "left_form": form,
        "limbs": limbs_on(row, day=today),
        **story(request, row),
        "today": today,
    }
    status = 422 if form.errors else 200
    return render(request, "horses/horse.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def horse_add(request: HttpRequest) -> HttpResponse:
    """Adds a horse, with its owner."""
    clients = Client.objects.visible_to(request.user).active()
    given = {"key": uuid4()} | {
        name: request.GET[source]
        for name, source in (("barn", "barn"), ("owner", "client"))
        if source in request.GET
    }
    form = NewHorseForm(
        request.POST or None, initial=given, clients=clients, **_choices(request, None)
    )
    if request.method == "POST" and form.is_valid():
        owner = form.cleaned_data["owner"]
        try:
            row = create_horse(
                by=access.member(request),
                today=timezone.localdate(),
                key=form.made_key,
                owners={owner: Decimal(100)} if owner else None,
                owners_from=form.cleaned_data["owner_from"],
                **form.said(),
            )
            messages.success(request, f"{row.name} is entered.")
            return redirect("horses:horse", pk=row.pk)
        except Refused as refusal:
            say(form, _beside(refusal))
    page = {"form": form, "horse": None}
    status = 422 if form.is_bound else 200
    return render(request, "horses/horse_form.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def horse_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Changes what is said of a horse."""
    row = access.get(Horse.objects.visible_to(request.user), pk=pk)
    practice = Practice.objects.the_one()
    form = HorseForm(
        request.POST or None, initial=as_typed(row, practice), **_choices(request, row)
    )
    if request.method == "POST" and form.is_valid():
        try:
            change_horse(
                horse=row,
                by=access.member(request),
                today=timezone.localdate(),
                **form.said(),
            )
            messages.success(request, f"{row.name}: saved.")
            return redirect("horses:horse", pk=row.pk)
        except Refused as refusal:
            say(form, _beside(refusal))
    page = {"form": form, "horse": row}
    status = 422 if form.is_bound else 200
    return render(request, "horses/horse_form.html", page, status=status)


@require_GET
@access.door(access.STAFF)
def client_horses(request: HttpRequest, pk: int) -> HttpResponse:
    """A piece for the client's page: the horses owned, and those paid for."""
    client = access.get(Client.objects.visible_to(request.user), pk=pk)
    today = timezone.localdate()
    page = {
        "client": client,
        "owned": selectors.of_client(client=client, today=today),
        "paid": selectors.paid_by_client(client=client, today=today),
    }
    return render(request, "horses/_client_horses.html", page)


@require_GET
@access.door(access.STAFF)
def barn_horses(request: HttpRequest, pk: int) -> HttpResponse:
    """A piece for the barn's page: the horses that stand there."""
    barn = access.get(Barn.objects.visible_to(request.user), pk=pk)
    rows = selectors.listed(viewer=request.user, today=timezone.localdate(), barn=barn)
    page = {"barn": barn, "horses": rows, "today": timezone.localdate()}
    return render(request, "horses/_barn_horses.html", page)


def _choices(request: HttpRequest, row: Horse | None) -> dict[str, Any]:
    """What the form offers: what is in use, and what this horse has anyway."""
    barn = row.barn_id if row else None
    work = row.usual_work_id if row else None
    barns = Barn.objects.visible_to(request.user)
    return {
        "barns": barns.filter(Q(is_active=True) | Q(pk=barn)),
        "works": Work.objects.on_horses().filter(Q(is_active=True) | Q(pk=work)),
        "practice": Practice.objects.the_one(),
    }


#: Fields of the horse that the form calls by another name.
_TYPED_AS = {"height_mm": "height", "mass_kg": "mass", "shares": "owner"}


def _beside(refusal: Refused) -> Refused:
    """The same refusal, beside the field as the form calls it."""
    field = refusal.field or ""
    return Refused(refusal.sentence, field=_TYPED_AS.get(field, field) or None)

"""Clients: list, page, form."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
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
from practice.forms.clients import ClientForm
from practice.keys import uuid7
from practice.models import Client
from practice.selectors import clients_with
from practice.services.clients import (
    FIELDS,
    Doubled,
    add_client,
    change_client,
    set_client_active,
)
from practice.services.users import invite_owner

ON_A_PAGE = 50


@require_safe
@access.door(access.STAFF)
def clients(request: HttpRequest) -> HttpResponse:
    """Clients by name, searched by any word of theirs."""
    words, aside = request.GET.get("q", "")[:100], "aside" in request.GET
    found = clients_with(
        Client.objects.visible_to(request.user), words=words, aside=aside
    )
    page = Paginator(found, ON_A_PAGE).get_page(request.GET.get("page"))
    told = {"page": page, "q": words, "aside": aside}
    return render(request, "practice/clients.html", told)


@require_safe
@access.door(access.STAFF)
def client(request: HttpRequest, pk: int) -> HttpResponse:
    """One client: how to reach them, their horses, their account."""
    found = access.get(Client.objects.visible_to(request.user), pk=pk)
    told = {
        "client": found,
        "users": found.users.all(),
        "barns": found.barns.filter(is_active=True),
    }
    return render(request, "practice/client.html", told)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def client_add(request: HttpRequest) -> HttpResponse:
    """A new client."""
    practice = getattr(request, "practice", None)
    initial = {"key": uuid7(), "country": practice.country if practice else ""}
    form = ClientForm(request.POST or None, initial=initial)
    doubles: list[Client] = []
    if request.method == "POST" and form.is_valid():
        try:
            made = add_client(
                by=access.member(request),
                key=form.cleaned_data["key"],
                **form.answers(),
            )
        except Refused as refusal:
            say(form, refusal)
            doubles = refusal.clients if isinstance(refusal, Doubled) else []
        else:
            messages.success(request, f"{made.name} is added.")
            return redirect("practice:client", pk=made.pk)
    return _form(request, form, doubles=doubles)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def client_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """A client's form."""
    found = access.get(Client.objects.visible_to(request.user), pk=pk)
    values = {name: getattr(found, name) for name in FIELDS}
    form = ClientForm(request.POST or None, initial=values)
    doubles: list[Client] = []
    if request.method == "POST" and form.is_valid():
        try:
            change_client(client=found, by=access.member(request), **form.answers())
        except Refused as refusal:
            say(form, refusal)
            doubles = refusal.clients if isinstance(refusal, Doubled) else []
        else:
            messages.success(request, "Saved.")
            return redirect("practice:client", pk=found.pk)
    return _form(request, form, client=found, doubles=doubles)


def _form(request: HttpRequest, form: ClientForm, **told: Any) -> HttpResponse:
    status = 422 if form.is_bound else 200
    told["form"] = form
    return render(request, "practice/client_form.html", told, status=status)


@require_POST
@access.door(access.BOOKS)
def client_aside(request: HttpRequest, pk: int) -> HttpResponse:
    """Puts a client aside, or (``active=yes``) brings one back."""
    found = access.get(Client.objects.visible_to(request.user), pk=pk)
    active = request.POST.get("active") == "yes"
    set_client_active(client=found, active=active, by=access.member(request))
    return redirect("practice:client", pk=pk)


@require_POST
@access.door(access.BOOKS)
def client_invite(request: HttpRequest, pk: int) -> HttpResponse:
    """Gives a client a way in to the own horses, by mail."""
    found = access.get(Client.objects.visible_to(request.user), pk=pk)
    try:
        user = invite_owner(client=found, by=access.member(request))
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"A link to sign in is on its way to {user.email}.")
    return redirect("practice:client", pk=pk)

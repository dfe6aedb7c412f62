"""Who may sign in: list, form, let in, keep out."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
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
from practice.forms.users import OwnerUserForm, UserForm
from practice.models import User
from practice.services.users import (
    add_user,
    change_user,
    invite_user,
    set_active,
    set_barns,
)

ON_A_PAGE = 50
_OUTSIDE = (User.Role.OWNER, User.Role.BARN_CONTACT)


@require_safe
@access.door(access.HEAD)
def users(request: HttpRequest) -> HttpResponse:
    """Members of the practice, then owners and barn contacts by pages."""
    visible = User.objects.visible_to(request.user).select_related("client")
    outside = visible.filter(role__in=_OUTSIDE)
    told = {
        "members": visible.exclude(role__in=_OUTSIDE),
        "page": Paginator(outside, ON_A_PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "practice/users.html", told)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.HEAD)
def user_add(request: HttpRequest) -> HttpResponse:
    """A new member of the practice, or a barn contact; both are mailed a way in."""
    initial: dict[str, Any] = {}
    if request.GET.get("barn", "").isdecimal():
        initial = {"role": User.Role.BARN_CONTACT, "barns": [request.GET["barn"]]}
    form = UserForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            made = add_user(by=access.member(request), **form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(
                request, f"{made.name} is added. An invitation goes to {made.email}."
            )
            return redirect("practice:users")
    status = 422 if form.is_bound else 200
    return render(request, "practice/user_form.html", {"form": form}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.HEAD)
def user_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """A user's form."""
    found = access.get(User.objects.visible_to(request.user), pk=pk)
    kind = OwnerUserForm if found.role == User.Role.OWNER else UserForm
    form = kind(request.POST or None, initial=kind.values_of(found))
    if request.method == "POST" and form.is_valid():
        try:
            _change(found, access.member(request), dict(form.cleaned_data))
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Saved.")
            return redirect("practice:users")
    status = 422 if form.is_bound else 200
    told = {"form": form, "user_shown": found}
    return render(request, "practice/user_form.html", told, status=status)


@transaction.atomic
def _change(found: User, by: User, fields: dict[str, Any]) -> None:
    barns = fields.pop("barns", ())
    changed = change_user(user=found, by=by, **fields)
    set_barns(user=changed, barns=barns, by=by)


@require_POST
@access.door(access.HEAD)
def user_active(request: HttpRequest, pk: int) -> HttpResponse:
    """Keeps a user out, or (``active=yes``) lets one in again."""
    found = access.get(User.objects.visible_to(request.user), pk=pk)
    active = request.POST.get("active") == "yes"
    try:
        set_active(user=found, active=active, by=access.member(request))
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    return redirect("practice:users")


@require_POST
@access.door(access.HEAD)
def user_invite(request: HttpRequest, pk: int) -> HttpResponse:
    """Mails a user a link to sign in."""
    found = access.get(User.objects.visible_to(request.user), pk=pk)
    try:
        invite_user(user=found, by=access.member(request))
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"A link is on its way to {found.email}.")
    return redirect("practice:users")

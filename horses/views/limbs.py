"""How a horse's limbs are built: shown, noted limb by limb, amended, ended."""

from typing import cast
from uuid import UUID, uuid5

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
)

from horses.forms.limbs import AmendTraitForm, EndTraitForm, NewTraitForm, trait_data
from horses.hoof import FEET, MATE, Foot
from horses.models import Conformation, Horse
from horses.selectors.limbs import limb_file, trait_of
from horses.services.conformation import (
    amend_conformation,
    end_conformation,
    record_conformation,
)
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.keys import uuid7


@require_GET
@access.door(access.STAFF)
def limbs(request: HttpRequest, pk: int) -> HttpResponse:
    """The four limbs: sketch and traits of each, and what was so before."""
    horse = access.get(Horse.objects.visible_to(request.user), pk=pk)
    page = {"horse": horse, "file": limb_file(horse, today=timezone.localdate())}
    return render(request, "horses/limbs.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.TREATS)
def limb_add(request: HttpRequest, pk: int, limb: str) -> HttpResponse:
    """Notes one trait of one limb, if wanted of its mate too."""
    horse = access.get(Horse.objects.visible_to(request.user), pk=pk)
    if limb not in FEET:
        raise Http404
    which = cast(Foot, limb)
    today = timezone.localdate()
    form = NewTraitForm(
        request.POST or None, limb=which, initial={"key": uuid7(), "seen_on": today}
    )
    if request.method == "POST" and form.is_valid():
        key: UUID = form.cleaned_data["key"]
        wanted: list[tuple[Foot, UUID]] = [(which, key)]
        if form.cleaned_data["both"]:
            wanted.append((MATE[which], uuid5(key, MATE[which])))
        try:
            with transaction.atomic():
                for at, name in wanted:
                    record_conformation(
                        key=name,
                        horse=horse,
                        said=form.said(at),
                        seen_on=form.cleaned_data["seen_on"],
                        by=access.member(request),
                        today=today,
                    )
            messages.success(request, "Noted. It is carried to every visit.")
            return redirect("horses:limb_add", pk=horse.pk, limb=limb)
        except Refused as refused:
            say(form, refused)
    file = limb_file(horse, today=today)
    page = {
        "horse": horse,
        "form": form,
        "look": next(look for look in file.looks if look.limb == limb),
        "file": file,
    }
    status = 422 if form.is_bound else 200
    return render(request, "horses/limb_form.html", page, status=status)


def _row(request: HttpRequest, pk: UUID) -> Conformation:
    rows = Conformation.objects.visible_to(request.user).select_related("horse")
    return access.get(rows, pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.FARRIER)
def limb_amend(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Mends what was written wrong of a limb; the old values are kept."""
    row = _row(request, pk)
    limb: Foot = row.limb  # type: ignore[assignment]  # a constraint holds it
    form = AmendTraitForm(request.POST or None, limb=limb, initial=trait_data(row))
    if request.method == "POST" and form.is_valid():
        try:
            amend_conformation(
                row=row,
                said=form.said(),
                seen_on=form.cleaned_data["seen_on"],
                reason=form.cleaned_data["reason"],
                by=access.member(request),
                today=timezone.localdate(),
            )
            messages.success(request, "Amended. The old values are kept.")
            return redirect("horses:limbs", pk=row.horse_id)
        except Refused as refused:
            say(form, refused)
    return _amend_page(request, row, form=form)


def _amend_page(
    request: HttpRequest,
    row: Conformation,
    *,
    form: AmendTraitForm | None = None,
    end_form: EndTraitForm | None = None,
) -> HttpResponse:
    limb: Foot = row.limb  # type: ignore[assignment]  # a constraint holds it
    is_bad = any(each is not None and each.is_bound for each in (form, end_form))
    page = {
        "row": row,
        "trait": trait_of(row),
        "horse": row.horse,
        "form": form or AmendTraitForm(limb=limb, initial=trait_data(row)),
        "end_form": end_form
        or EndTraitForm(initial={"ended_on": timezone.localdate()}),
    }
    return render(
        request, "horses/limb_amend.html", page, status=422 if is_bad else 200
    )


@require_POST
@access.door(access.FARRIER)
def limb_end(request: HttpRequest, pk: UUID) -> HttpResponse:
    """From a day on it is no longer so; it stays in the history."""
    row = _row(request, pk)
    form = EndTraitForm(request.POST)
    if form.is_valid():
        try:
            end_conformation(
                row=row,
                day=form.cleaned_data["ended_on"],
                note=form.cleaned_data["ended_note"],
                by=access.member(request),
                today=timezone.localdate(),
            )
            messages.success(request, "Ended. It stays in the history.")
            return redirect("horses:limbs", pk=row.horse_id)
        except Refused as refused:
            say(form, refused)
    return _amend_page(request, row, end_form=form)

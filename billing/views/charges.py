"""The charge list: prices, extras, tax rates."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from billing.forms.charges import ExtraForm, PricesForm, TaxRateForm
from billing.models import ChargeItem
from billing.selectors import (
    billing_settings,
    class_codes,
    is_proposed,
    regime_of,
    tax_choices,
    taxed_codes,
)
from billing.selectors import charge_list as charges
from billing.services.charges import (
    Priced,
    add_extra,
    propose_charge_list,
    retire_charge,
    set_prices,
    set_tax_rate,
)
from billing.services.standing import is_confirmed
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Practice


def _page(request: HttpRequest, **forms: Any) -> HttpResponse:
    practice = Practice.objects.the_one()
    today = timezone.localdate()
    codes = tax_choices(practice, today)
    rated = taxed_codes(practice)
    page = {
        "prices": PricesForm(
            items=charges(), tax_codes=codes, classes=class_codes(practice)
        ),
        "extra": ExtraForm(tax_codes=codes),
        "rate": TaxRateForm(codes=rated, today=today) if rated else None,
        "regime": regime_of(practice),
        "is_confirmed": is_confirmed(practice, billing_settings()),
        **forms,
    }
    status = 422 if any(form.is_bound for form in forms.values()) else 200
    return render(request, "billing/charge_list.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def charge_list(request: HttpRequest) -> HttpResponse:
    """All prices on one page; saved together."""
    practice = Practice.objects.the_one()
    if request.method != "POST":
        if not is_proposed(practice):
            propose_charge_list(practice=practice)
        return _page(request)
    form = PricesForm(
        request.POST,
        items=charges(),
        tax_codes=tax_choices(practice, timezone.localdate()),
        classes=class_codes(practice),
    )
    if form.is_valid():
        wishes = {key: Priced(*wish) for key, wish in form.wishes().items()}
        try:
            changed = set_prices(by=access.member(request), priced=wishes)
        except Refused as refusal:
            say(form, refusal)
        else:
            word = {0: "Nothing changed.", 1: "One charge changed."}
            messages.success(request, word.get(changed, f"{changed} charges changed."))
            return redirect("billing:charge_list")
    return _page(request, prices=form)


@require_POST
@access.door(access.BOOKS)
def add_to_charge_list(request: HttpRequest) -> HttpResponse:
    """A new extra or goods."""
    practice = Practice.objects.the_one()
    form = ExtraForm(
        request.POST, tax_codes=tax_choices(practice, timezone.localdate())
    )
    if form.is_valid():
        try:
            item = add_extra(by=access.member(request), **form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{item.name}: on the charge list.")
            return redirect("billing:charge_list")
    return _page(request, extra=form)


@require_POST
@access.door(access.BOOKS)
def retire(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes an extra off the list."""
    item = access.get(ChargeItem.objects.visible_to(request.user), pk=pk)
    retire_charge(by=access.member(request), item=item)
    messages.success(request, f"{item.name}: off the charge list.")
    return redirect("billing:charge_list")


@require_POST
@access.door(access.BOOKS)
def tax_rate(request: HttpRequest) -> HttpResponse:
    """A new tax rate from a day on."""
    form = TaxRateForm(request.POST, codes=taxed_codes(Practice.objects.the_one()))
    if form.is_valid():
        try:
            rate = set_tax_rate(by=access.member(request), **form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{rate}: saved.")
            return redirect("billing:charge_list")
    return _page(request, rate=form)

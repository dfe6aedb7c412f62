"""One item of the charge list with its prices; how the practice stands with the tax."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from billing import regimes
from billing.forms.prices import ItemForm, PriceForm, StandingForm
from billing.models import BillingSettings, ChargeItem, Price
from billing.selectors import billing_settings, regime_of, tax_choices
from billing.services.prices import add_price, remove_price, set_item
from billing.services.standing import confirm_tax, is_confirmed, set_standing
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Barn, Client, Practice

_ITEM = ("name", "price", "unit", "tax_class", "tax_code", "puts_back")
_MODE = {None: "", True: "yes", False: "no"}


# ---- One item -----------------------------------------------------------------------
def _item(request: HttpRequest, pk: int) -> ChargeItem:
    rows = ChargeItem.objects.visible_to(request.user).active()
    return access.get(rows.select_related("work"), pk=pk)


def _item_page(request: HttpRequest, item: ChargeItem, **forms: Any) -> HttpResponse:
    practice = Practice.objects.the_one()
    codes = tax_choices(practice, timezone.localdate())
    initial: dict[str, Any] = {name: getattr(item, name) for name in _ITEM}
    initial["includes_tax"] = _MODE[item.includes_tax]
    page = {
        "item": item,
        "form": ItemForm(tax_codes=codes, initial=initial),
        "price": PriceForm(**_people(request)),
        "prices": item.prices.select_related("client", "barn").order_by("pk"),
        **forms,
    }
    status = 422 if any(form.is_bound for form in forms.values()) else 200
    return render(request, "billing/charge.html", page, status=status)


def _people(request: HttpRequest) -> dict[str, Any]:
    return {
        "clients": Client.objects.visible_to(request.user),
        "barns": Barn.objects.visible_to(request.user),
    }


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def charge(request: HttpRequest, pk: int) -> HttpResponse:
    """What an item is, and its other prices."""
    item = _item(request, pk)
    if request.method != "POST":
        return _item_page(request, item)
    codes = tax_choices(Practice.objects.the_one(), timezone.localdate())
    form = ItemForm(request.POST, tax_codes=codes, initial={"tax_code": item.tax_code})
    if form.is_valid():
        try:
            set_item(item=item, by=access.member(request), wish=form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{form.cleaned_data['name']}: saved.")
            return redirect("billing:charge", pk)
    return _item_page(request, item, form=form)


@require_POST
@access.door(access.BOOKS)
def price_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Another price of an item."""
    item = _item(request, pk)
    form = PriceForm(request.POST, **_people(request))
    if form.is_valid():
        try:
            add_price(item=item, by=access.member(request), wish=form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "The price is added.")
            return redirect("billing:charge", pk)
    return _item_page(request, item, price=form)


@require_POST
@access.door(access.BOOKS)
def price_remove(request: HttpRequest, pk: int, price: int) -> HttpResponse:
    """Takes a price away."""
    item = _item(request, pk)
    row = Price.objects.filter(item=item, pk=price).first()
    if row is not None:
        remove_price(price=row, by=access.member(request))
    messages.success(request, "The price is removed.")
    return redirect("billing:charge", pk)


# ---- The tax ------------------------------------------------------------------------
def _schemes(regime: regimes.Regime) -> list[tuple[str, str]]:
    found = [(str(BillingSettings.Scheme.NONE), regime.unregistered.reason)]
    if regime.small is not None:
        small = f"{regime.small.name}: {regime.small.reason}"
        found.insert(0, (str(BillingSettings.Scheme.SMALL), small))
    else:
        found = [(str(BillingSettings.Scheme.SMALL), regime.unregistered.reason)]
    return found


def _places(regime: regimes.Regime) -> list[tuple[str, str]]:
    return [(place.code, place.name) for place in regime.places.values()]


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def tax(request: HttpRequest) -> HttpResponse:
    """The rates that are proposed, where they are from, and who confirmed them."""
    practice, said = Practice.objects.the_one(), billing_settings()
    regime = regime_of(practice)
    more = {"schemes": _schemes(regime), "places": _places(regime)}
    form = StandingForm(
        request.POST or None,
        initial={
            "unregistered_scheme": said.unregistered_scheme,
            "tax_place": said.tax_place,
        },
        **more,
    )
    if form.is_bound and form.is_valid():
        try:
            set_standing(
                by=access.member(request),
                scheme=form.cleaned_data["unregistered_scheme"],
                place=form.cleaned_data["tax_place"],
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Saved: look over the rates, then confirm.")
            return redirect("billing:tax")
    today = timezone.localdate()
    page = {
        "regime": regime,
        "form": form,
        "said": said,
        "is_confirmed": is_confirmed(practice, said),
        "asks": bool(regime.places) or not practice.tax_registered,
        "version": date.fromisoformat(regimes.VERSION),
        "rows": [
            (rate, rate.starts <= today and not (rate.ends and rate.ends < today))
            for rate in regime.rates
        ],
    }
    status = 422 if form.is_bound else 200
    return render(request, "billing/tax.html", page, status=status)


@require_POST
@access.door(access.HEAD)
def tax_confirm(request: HttpRequest) -> HttpResponse:
    """The first farrier confirms how the practice stands."""
    confirm_tax(by=access.member(request), now=timezone.now())
    messages.success(request, "Noted that you have checked the tax.")
    return redirect("billing:tax")

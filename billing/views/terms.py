"""What is agreed with a client, and for a barn."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from billing.forms.terms import BarnTermsForm, ClientTermsForm
from billing.models import BarnTerms, Price
from billing.selectors import terms_of
from billing.services.terms import set_barn_terms, set_client_terms
from billing.views.rules import road_system
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Barn, Client, Practice

_CLIENT = (
    *("reference", "is_business", "treatment", "exempt_number"),
    *("exempt_until", "discount_percent", "discount_reason"),
)
_BARN = ("payer", "payer_from", "payer_to", "split_mode", "travel_metres")


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def client_terms(request: HttpRequest, pk: int) -> HttpResponse:
    """How one client is billed."""
    client = access.get(Client.objects.visible_to(request.user), pk=pk)
    row = terms_of(client)
    form = ClientTermsForm(
        request.POST or None, initial={name: getattr(row, name) for name in _CLIENT}
    )
    if form.is_bound and form.is_valid():
        try:
            set_client_terms(
                client=client, by=access.member(request), wish=form.cleaned_data
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"The terms of {client.name} are saved.")
            return redirect("practice:client", client.pk)
    page = {
        "form": form,
        "client": client,
        "prices": Price.objects.filter(client=client).select_related("item", "barn"),
    }
    status = 422 if form.is_bound else 200
    return render(request, "billing/client_terms.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def barn_terms(request: HttpRequest, pk: int) -> HttpResponse:
    """How visits at one barn are billed."""
    barn = access.get(Barn.objects.visible_to(request.user), pk=pk)
    row = BarnTerms.objects.filter(barn=barn).first() or BarnTerms(barn=barn)
    form = BarnTermsForm(
        request.POST or None,
        clients=Client.objects.visible_to(request.user),
        system=road_system(Practice.objects.the_one()),
        initial={name: getattr(row, name) for name in _BARN},
    )
    if form.is_bound and form.is_valid():
        try:
            set_barn_terms(barn=barn, by=access.member(request), wish=form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"The terms at {barn.name} are saved.")
            return redirect("practice:barn", barn.pk)
    page = {
        "form": form,
        "barn": barn,
        "prices": Price.objects.filter(barn=barn).select_related("item", "client"),
    }
    status = 422 if form.is_bound else 200
    return render(request, "billing/barn_terms.html", page, status=status)

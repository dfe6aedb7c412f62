"""Pieces of money that other pages load into theirs; opened by themselves they lead to
the page of the same."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from billing.selectors import horse_rows, state_of, waiting
from horses.models import Horse
from practice import access


def is_piece(request: HttpRequest) -> bool:
    """Whether a page asks for the piece alone."""
    return request.headers.get("X-Requested-With") == "fetch"


@require_safe
@access.door(access.BOOKS)
def drafts(request: HttpRequest) -> HttpResponse:
    """What waits: drafts, visits without an invoice, what is overdue."""
    if not is_piece(request):
        return redirect("billing:invoices")
    page = {"waiting": waiting(access.member(request), timezone.localdate())}
    return render(request, "billing/_drafts.html", page)


@require_safe
@access.door(access.BOOKS)
def horse_money(request: HttpRequest, pk: int) -> HttpResponse:
    """The last documents that a horse is on."""
    horse = access.get(Horse.objects.visible_to(request.user), pk=pk)
    today = timezone.localdate()
    rows = [
        (document, *state_of(document, today))
        for document in horse_rows(access.member(request), horse)
    ]
    name = "_horse_money" if is_piece(request) else "horse_money"
    return render(request, f"billing/{name}.html", {"horse": horse, "rows": rows})

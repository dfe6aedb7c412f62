"""Closing a visit, and its invoices before leaving."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from billing.selectors import invoices_of_visit, state_of, sums_of, visit_records
from billing.services.drafts import draft_invoices
from billing.services.invoices import issue_all
from billing.services.visits import close_visit
from horses.models import Visit
from practice import access
from practice.errors import Refused


def _visit(request: HttpRequest, pk: UUID) -> Visit:
    rows = Visit.objects.visible_to(request.user).select_related("barn", "farrier")
    return access.get(rows, pk=pk)


def _page(request: HttpRequest, visit: Visit, *, status: int = 200) -> HttpResponse:
    today = timezone.localdate()
    documents = invoices_of_visit(visit)
    records = visit_records(visit)
    page = {
        "visit": visit,
        "records": records,
        "horses": len(records),
        "rows": [(document, *state_of(document, today)) for document in documents],
        "sums": sums_of(documents),
        "may_close": access.may_enter(request.user, access.FARRIER),
    }
    return render(request, "billing/closing.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def closing(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Before leaving: what each payer owes. POST closes the visit (farriers) and
    drafts the invoices; for a closed one it drafts what is missing. Repeats do nothing.
    """
    visit = _visit(request, pk)
    if request.method != "POST":
        return _page(request, visit)
    by = access.member(request)
    if not visit.is_closed and not access.may_enter(by, access.FARRIER):
        raise PermissionDenied
    try:
        if visit.is_closed:
            draft_invoices(visit=visit, by=by)
        else:
            close_visit(visit=visit, by=by)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return _page(request, visit, status=422)
    return redirect("billing:closing", pk)


@require_POST
@access.door(access.BOOKS)
def issue_visit(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Issues every draft of the visit: all or none."""
    visit = _visit(request, pk)
    try:
        done = issue_all(
            visit=visit, by=access.member(request), today=timezone.localdate()
        )
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return _page(request, visit, status=422)
    if done:
        numbers = ", ".join(str(document.number) for document in done)
        messages.success(request, f"Issued: {numbers}.")
    return redirect("billing:closing", pk)

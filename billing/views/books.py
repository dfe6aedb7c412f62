"""The books: what is owed by age, month end, files for the accountant, collecting."""

from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from billing.forms.mending import (
    CollectingForm,
    DayForm,
    LatePercentForm,
    PeriodForm,
)
from billing.models import Invoice, IssueRun, LatePercent, MadeFile
from billing.selectors.books import (
    TABLES,
    Period,
    all_tables,
    tax_by_issue,
    tax_by_payment,
)
from billing.selectors.ledger import AGES, aged, control, last_booked
from billing.services.collecting import collecting, set_collecting, set_late_percent
from billing.services.month_end import start_run
from billing.tables import Table, as_csv, as_xlsx
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Practice


def _file(name: str, content: bytes, kind: str) -> HttpResponse:
    return HttpResponse(
        content,
        content_type=kind,
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "Cache-Control": "private, no-store",
            "X-Content-Type-Options": "nosniff",
        },
    )


def _month(today: date) -> dict[str, date]:
    """The month before this one: what is usually asked for."""
    last = today.replace(day=1) - timedelta(days=1)
    return {"first": last.replace(day=1), "last": last}


@require_safe
@access.door(access.BOOKS)
def books(request: HttpRequest) -> HttpResponse:
    """The way to all of it, and whether the books balance."""
    today = timezone.localdate()
    found = control()
    form = PeriodForm(initial=_month(today))
    years = Invoice.objects.issued().dates("issue_day", "year", order="DESC")
    faulty = [one for one in found if not one.holds]
    page = {
        "faulty": faulty,
        "faulty_count": len(faulty),
        "clients": len(found),
        "drafts": Invoice.objects.drafts().count(),
        "period": form,
        "months": Invoice.objects.issued().dates("issue_day", "month", order="DESC")[
            :12
        ],
        "years": [day.year for day in years],
        "files": MadeFile.objects.select_related("by")[:8],
    }
    return render(request, "billing/books.html", page)


@require_safe
@access.door(access.BOOKS)
def owed(request: HttpRequest) -> HttpResponse:
    """What all clients owe at the end of a day, by age."""
    today = timezone.localdate()
    form = DayForm(request.GET or {"as_of": today.isoformat()})
    as_of = form.cleaned_data["as_of"] if form.is_valid() else today
    found = aged(as_of)
    if request.GET.get("as") == "csv":
        rows: list[Any] = [
            [row.client.name, *row.ages, row.owed, row.credit] for row in found.rows
        ]
        table = Table("owed", ("client", *AGES, "owed", "credit"), rows)
        return _file(f"owed-{as_of}.csv", as_csv(table), "text/csv; charset=utf-8")
    page = {
        "form": form,
        "aged": found,
        "ages": AGES,
        "booked": last_booked(as_of),
        "as_of": as_of,
    }
    status = 200 if form.is_valid() else 422
    return render(request, "billing/owed.html", page, status=status)


@require_safe
@access.door(access.BOOKS)
def export(request: HttpRequest) -> HttpResponse:
    """Tax by rate of a period on a page, or all tables of it as a workbook or CSV."""
    form = PeriodForm(request.GET or _month(timezone.localdate()))
    if not form.is_valid():
        return render(request, "billing/export.html", {"form": form}, status=422)
    period = Period(form.cleaned_data["first"], form.cleaned_data["last"])
    wanted = request.GET.get("as", "")
    if wanted:
        practice, name = Practice.objects.the_one(), f"{period.first}-{period.last}"
        if wanted == "xlsx":
            kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
            tables = all_tables(period, practice)
            return _file(f"books-{name}.xlsx", as_xlsx(tables), kind)
        if wanted in TABLES:
            kind = "text/csv; charset=utf-8"
            table = TABLES[wanted](period, practice)
            return _file(f"{table.name}-{name}.csv", as_csv(table), kind)
    page = {
        "form": form,
        "period": period,
        "by_issue": tax_by_issue(period),
        "by_payment": tax_by_payment(period),
        "tables": (
            ("sales_journal", "Sales journal"),
            ("tax_by_issue", "Tax by issue"),
            ("tax_by_payment", "Tax by payment"),
            ("payments", "Payments"),
            ("ledger", "Ledger"),
            ("changes", "Who did what, when"),
        ),
    }
    return render(request, "billing/export.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def month_end(request: HttpRequest) -> HttpResponse:
    """All drafts, and issuing them in one go."""
    if request.method == "POST":
        run = start_run(by=access.member(request), today=timezone.localdate())
        return redirect("billing:issue_run", run.pk)
    drafts = list(
        Invoice.objects.visible_to(request.user)
        .drafts()
        .filter(lines__isnull=False)
        .distinct()
        .select_related("client", "visit")
        .order_by("visit__day", "client__name")
    )
    runs = IssueRun.objects.all()[:6]
    page = {"drafts": drafts, "count": len(drafts), "runs": runs}
    return render(request, "billing/month_end.html", page)


@require_safe
@access.door(access.BOOKS)
def issue_run(request: HttpRequest, pk: UUID) -> HttpResponse:
    """How far the issuing of all drafts has come."""
    run = access.get(IssueRun.objects.all(), pk=pk)
    page = {"run": run, "refused": len(run.refused)}
    return render(request, "billing/issue_run.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def how(request: HttpRequest) -> HttpResponse:
    """How the practice collects: nudges, and the law on late payment."""
    now = collecting()
    form = CollectingForm(
        request.POST or None,
        initial={
            "nudges_on": now.nudges_on,
            "days_before": now.days_before,
            "late_law": now.late_law,
            "receipts_on": now.receipts_on,
        },
    )
    if request.method == "POST" and form.is_valid():
        try:
            set_collecting(by=access.member(request), **form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Saved.")
            return redirect("billing:collecting")
    return _how_page(request, form, LatePercentForm())


def _how_page(
    request: HttpRequest, form: CollectingForm, rate: LatePercentForm
) -> HttpResponse:
    page = {"form": form, "rate": rate, "rates": LatePercent.objects.all()}
    status = 422 if form.is_bound or rate.is_bound else 200
    return render(request, "billing/collecting.html", page, status=status)


@require_POST
@access.door(access.BOOKS)
def late_percent(request: HttpRequest) -> HttpResponse:
    """Enters a rate of interest from a day on."""
    rate = LatePercentForm(request.POST)
    if rate.is_valid():
        set_late_percent(by=access.member(request), **rate.cleaned_data)
        messages.success(request, "Saved.")
        return redirect("billing:collecting")
    now = collecting()
    started = {
        "nudges_on": now.nudges_on,
        "days_before": now.days_before,
        "late_law": now.late_law,
        "receipts_on": now.receipts_on,
    }
    return _how_page(request, CollectingForm(initial=started), rate)

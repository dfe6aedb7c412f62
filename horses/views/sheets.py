"""Bringing a sheet in: upload it, match its columns, look, confirm."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from horses.forms.sheets import AnswersForm, ColumnsForm, UploadForm
from horses.models import SheetImport
from horses.selectors.sheets import columns_of, earlier
from horses.services.sheet_plan import Plan
from horses.services.sheets import (
    answer_sheet,
    confirm_sheet,
    drop_sheet,
    plan_of,
    receive_sheet,
)
from practice import access
from practice.errors import Refused
from practice.forms.answers import say

SHOWN_BAD = 200
SHOWN_NEAR = 100  # on one page; what is not answered stays two


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def sheets(request: HttpRequest) -> HttpResponse:
    """Takes a file, and lists the sheets brought in before."""
    sent = request.method == "POST"
    form = UploadForm(request.POST, request.FILES) if sent else UploadForm()
    if sent and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            sheet = receive_sheet(
                name=file.name, data=file.read(), by=access.member(request)
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            return redirect("horses:import_columns", pk=sheet.pk)
    page = {"form": form, "earlier": earlier(access.member(request))}
    status = 422 if sent else 200
    return render(request, "horses/import.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def sheet_columns(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The columns and what each is; the order of day and month where it is open."""
    sheet = access.get(SheetImport.objects.visible_to(request.user), pk=pk)
    if sheet.state != SheetImport.State.WAITING:
        return redirect("horses:import_sheet", pk=sheet.pk)
    plan, trouble = _plan(sheet)
    asked = plan.reading.asked if plan else None
    order = next((o for o in plan.reading.orders.values()), None) if plan else None
    form = ColumnsForm(
        request.POST if request.method == "POST" else None,
        columns=columns_of(sheet),
        example=asked.example if asked else _answered(sheet),
        order=sheet.date_order or (order.order if order else ""),
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data.get("date_order")
        try:
            answer_sheet(sheet=sheet, mapping=form.mapping, date_order=said)
        except Refused as refusal:
            say(form, refusal)
        else:
            return redirect("horses:import_sheet", pk=sheet.pk)
    page = {"form": form, "sheet": sheet, "trouble": trouble}
    status = 422 if form.is_bound else 200
    return render(request, "horses/import_columns.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def sheet(request: HttpRequest, pk: UUID) -> HttpResponse:
    """What would come in, what is bad, who is like whom; and the way to confirm.

    Once the sheet is in, what came in.
    """
    row = access.get(SheetImport.objects.visible_to(request.user), pk=pk)
    if row.state != SheetImport.State.WAITING:
        return render(request, "horses/import_done.html", _done(row))
    plan, _ = _plan(row)
    if plan is None:
        return redirect("horses:import_columns", pk=row.pk)
    near = plan.near[:SHOWN_NEAR]
    typed = request.POST if request.method == "POST" else None
    form = AnswersForm(typed, near=near, answers=row.answers)
    if request.method == "POST" and form.is_valid():
        answers = form.answers
        kind = request.POST.get("same", "")
        answers |= {n.key: True for n in plan.near if n.kind == kind and n.is_alike}
        row = answer_sheet(sheet=row, answers=answers)
        if "bring" in request.POST:
            row = confirm_sheet(sheet=row, by=access.member(request))
            messages.success(request, f"{row.name} is in.")
        return redirect("horses:import_sheet", pk=row.pk)
    return render(
        request, "horses/import_sheet.html", {"sheet": row, **_preview(plan, form)}
    )


@require_POST
@access.door(access.BOOKS)
def sheet_drop(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Forgets a sheet that is not in yet."""
    row = access.get(SheetImport.objects.visible_to(request.user), pk=pk)
    drop_sheet(sheet=row)
    messages.success(request, "The sheet is dropped; nothing came in.")
    return redirect("horses:import")


def _done(sheet: SheetImport) -> dict[str, Any]:
    counts = dict(sheet.counts)
    return {
        "sheet": sheet,
        "rows_bad": counts.pop("rows_bad", 0),
        "counts": counts,
    }


def _plan(sheet: SheetImport) -> tuple[Plan | None, str]:
    """The plan, or the sentence that says why there is none."""
    try:
        return plan_of(sheet=sheet), ""
    except Refused as refusal:
        return None, refusal.sentence


def _answered(sheet: SheetImport) -> str:
    """An order that was answered can be answered again."""
    return "03/04" if sheet.date_order else ""


def _preview(plan: Plan, form: AnswersForm) -> dict[str, Any]:
    near = [(one, form[f"near_{one.key}"]) for one in form.near]
    alike = {
        kind: sum(one.kind == kind and one.is_alike for one in plan.near)
        for kind in ("client", "barn")
    }
    return {
        "counts": plan.counts(),
        "good": len(plan.rows),
        "bad": plan.bad[:SHOWN_BAD],
        "bad_count": len(plan.bad),
        "bad_more": max(0, len(plan.bad) - SHOWN_BAD),
        "near": near,
        "near_more": len(plan.near) - len(near),
        "alike": {kind: n for kind, n in alike.items() if n > 1},
        "asked": plan.reading.asked,
        "changes_nothing": plan.changes_nothing,
        "currency_signs": plan.reading.currency_signs,
        "form": form,
    }

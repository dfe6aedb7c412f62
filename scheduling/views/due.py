"""Who is due."""

from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from practice import access
from scheduling.forms.rounds import DueFilter
from scheduling.selectors.due import AHEAD_DAYS, by_barn, due_count, due_horses
from scheduling.selectors.rounds import left_open
from scheduling.selectors.weights import weights_in_use

MOST_HORSES = 300


@require_safe
@access.door(access.STAFF)
def due(request: HttpRequest) -> HttpResponse:
    """The due horses by barn, overdue first; horses are ticked and booked from here."""
    viewer, today = access.member(request), timezone.localdate()
    weights = weights_in_use()
    asked = request.GET.copy()
    asked["until"] = asked.get("until") or str(today + timedelta(days=AHEAD_DAYS))
    form = DueFilter(asked)
    chosen = form.cleaned_data if form.is_valid() else {}
    horses = due_horses(
        viewer=viewer,
        today=today,
        until=chosen.get("until"),
        area=chosen.get("area"),
        farrier=chosen.get("farrier"),
        barn=chosen.get("barn"),
        weights=weights,
    )
    total = horses.count()
    page = {
        "form": form,
        "barns": by_barn(horses[:MOST_HORSES], today=today, weights=weights),
        "total": total,
        "most": MOST_HORSES if total > MOST_HORSES else None,
        "counts": due_count(viewer=viewer, today=today),
        "left_open": left_open(viewer, today=today)[:20],
        "today": today,
        "farrier": chosen.get("farrier"),
    }
    return render(request, "scheduling/due.html", page)

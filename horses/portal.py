"""The owner's own pages, and the barn contact's: own rows, and nothing else."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from horses.conformation import lasting
from horses.models import Horse
from horses.selectors import owned
from horses.selectors.limbs import age_on, limbs_for
from horses.views.story import story
from horses.views.trends import trends_page
from practice import access
from practice.models import Barn, Client

VISITS_A_PAGE = 30


@require_GET
@access.door(access.OWNER)
def my_horses(request: HttpRequest) -> HttpResponse:
    """An owner's horses: when the farrier is next due, and what is owed."""
    client = _client(request)
    rows = owned.my_horses(client=client, today=timezone.localdate())
    page = {
        "client": client,
        "mine": [row for row in rows if row.is_now],
        "before": [row for row in rows if not row.is_now],
        "today": timezone.localdate(),
    }
    return render(request, "horses/my_horses.html", page)


@require_GET
@access.door(access.OWNER)
def my_horse(request: HttpRequest, pk: int) -> HttpResponse:
    """One own horse: its next visit and its history, up to the last day of owning."""
    horse = access.get(Horse.objects.visible_to(request.user), pk=pk)
    today = timezone.localdate()
    mine = owned.my_horse(horse=horse, client=_client(request), today=today)
    day = min(today, mine.until) if mine.until else today
    page = {
        "mine": mine,
        "horse": horse,
        "limbs": limbs_for(access.member(request), horse, day=day),
        "lasting": lasting(age_on(horse, day), horse.use),
        **story(request, horse),
        "today": today,
    }
    return render(request, "horses/my_horse.html", page)


@require_GET
@access.door(access.OWNER)
def my_trends(request: HttpRequest, pk: int) -> HttpResponse:
    """One own horse's feet over time, up to the last day of owning."""
    horse = access.get(Horse.objects.visible_to(request.user), pk=pk)
    return render(request, "horses/my_trends.html", trends_page(request, horse))


@require_GET
@access.door(access.BARN_CONTACT)
def barn_visits(request: HttpRequest) -> HttpResponse:
    """Visits at the contact's barns: day, farrier, horses. No health, no money."""
    rows = owned.barn_visits(access.member(request))
    barns = list(Barn.objects.visible_to(request.user))
    page = {
        "page": Paginator(rows, VISITS_A_PAGE).get_page(request.GET.get("page")),
        "barns": barns,
        "has_several": len(barns) > 1,
    }
    return render(request, "horses/barn_visits.html", page)


def _client(request: HttpRequest) -> Client:
    """The owner's own client."""
    return access.get(
        Client.objects.visible_to(request.user), pk=access.member(request).client_id
    )

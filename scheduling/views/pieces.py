"""Pieces of other apps' pages: what is booked for a horse or at a barn."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from horses.models import Horse
from practice import access
from practice.models import Barn
from scheduling.models import Ask, HorseHandling, HorseMinutes
from scheduling.selectors.bookings import ahead


@require_safe
@access.door(access.STAFF)
def horse_bookings(request: HttpRequest, pk: int) -> HttpResponse:
    """For the horse's page: its bookings ahead, with the round that each lies in."""
    horse = access.get(Horse.objects.visible_to(request.user), pk=pk)
    rows = ahead(viewer=request.user, today=timezone.localdate(), horse=horse)
    handling = (
        HorseHandling.objects.filter(horse=horse).select_related("farrier").first()
    )
    page = {
        "bookings": rows,
        "horse": horse,
        "handling": handling,
        "by_work": HorseMinutes.objects.filter(horse=horse).select_related("work"),
    }
    return render(request, "scheduling/_horse_bookings.html", page)


@require_safe
@access.door(access.STAFF | access.BARN_CONTACT)
def barn_upcoming(request: HttpRequest, pk: int) -> HttpResponse:
    """For who runs the barn: when the farrier comes, and for which horses."""
    barn = access.get(Barn.objects.visible_to(request.user), pk=pk)
    rows = ahead(viewer=request.user, today=timezone.localdate(), barn=barn)
    return render(request, "scheduling/_barn_upcoming.html", {"bookings": rows})


@require_safe
@access.door(access.OWNER)
def my_next_visit(request: HttpRequest, pk: int) -> HttpResponse:
    """For the owner: the next day that is asked or agreed for the horse."""
    horse = access.get(Horse.objects.visible_to(request.user), pk=pk)
    rows = ahead(viewer=request.user, today=timezone.localdate(), horse=horse)
    booking = rows.first()
    ask = None
    if booking:
        ask = Ask.objects.visible_to(request.user).standing().filter(booking=booking)
    page = {"booking": booking, "horse": horse, "ask": ask and ask.first()}
    return render(request, "scheduling/_my_next_visit.html", page)

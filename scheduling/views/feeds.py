"""The calendar by its secret address, and the keeping of the address."""

import hashlib

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_POST, require_safe

from practice import access
from practice.models import Practice, User
from scheduling.models import CalendarFeed
from scheduling.selectors.feeds import farrier_calendar
from scheduling.services.feeds import renew_feed, revoke_feed
from scheduling.views.hours import farrier_of, may_keep_feed


@require_safe
@access.door(access.PUBLIC)
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """The farrier's rounds as iCalendar, for whoever has the address.

    Its bytes change only when a booking does, so that a subscriber who asks hourly
    mostly gets 304.
    """
    found = (
        CalendarFeed.objects.filter(token=token, farrier__is_active=True)
        .select_related("farrier")
        .first()
    )
    if found is None:
        raise Http404
    body = farrier_calendar(
        farrier=found.farrier,
        practice=Practice.objects.the_one(),
        today=timezone.localdate(),
    )
    etag = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    response["ETag"] = etag
    response["Cache-Control"] = "private, max-age=300"
    response["Content-Disposition"] = 'inline; filename="rounds.ics"'
    return get_conditional_response(request, etag=etag, response=response) or response


@require_POST
@access.door(access.BOOKS)
def renew(request: HttpRequest, pk: int) -> HttpResponse:
    """A first or a fresh address; the old one is shut."""
    renew_feed(farrier=_keepable(request, pk), by=access.member(request))
    return redirect("scheduling:usual_days", pk=pk)


@require_POST
@access.door(access.BOOKS)
def revoke(request: HttpRequest, pk: int) -> HttpResponse:
    """Shuts the address."""
    revoke_feed(farrier=_keepable(request, pk), by=access.member(request))
    return redirect("scheduling:usual_days", pk=pk)


def _keepable(request: HttpRequest, pk: int) -> User:
    farrier = farrier_of(request, pk)
    if not may_keep_feed(access.member(request), farrier):
        raise PermissionDenied
    return farrier

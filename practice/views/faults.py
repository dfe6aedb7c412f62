"""What is answered where there is nothing, or where something broke: a page to people,
problem details (RFC 9457) to programs."""

from django.http import (
    HttpRequest,
    HttpResponse,
    HttpResponseServerError,
    JsonResponse,
)
from django.template import loader
from django.views.defaults import page_not_found

from practice.problems import MEDIA_TYPE, TITLES

_API = "/api/v"


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """For an address that no view has, and for rows that are not there or not yours."""
    if request.path.startswith(_API):
        return _told(404, "There is no such thing here, or it is not yours.")
    return page_not_found(request, exception)


def server_error(request: HttpRequest) -> HttpResponse:
    """For 500, with the request's id, which stands in the log too. It asks nothing,
    since anything may be broken."""
    house_id = getattr(request, "house_id", "")
    if request.path.startswith(_API):
        return _told(500, f"Something broke here. Tell us the request id: {house_id}.")
    context = {"request_id": house_id}
    return HttpResponseServerError(loader.render_to_string("500.html", context))


def _told(code: int, detail: str) -> JsonResponse:
    title = TITLES.get(code, "It did not work")
    body = {"type": "about:blank", "title": title, "status": code, "detail": detail}
    return JsonResponse(body, status=code, content_type=MEDIA_TYPE)

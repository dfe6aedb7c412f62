"""The page of an unexpected fault: it asks nothing, since anything may be broken."""

from django.http import HttpRequest, HttpResponse, HttpResponseServerError
from django.template import loader


def server_error(request: HttpRequest) -> HttpResponse:
    """The page for 500, with the request's id, which stands in the log too."""
    context = {"request_id": getattr(request, "house_id", "")}
    return HttpResponseServerError(loader.render_to_string("500.html", context))

"""What surrounds each request: its id, the practice's time, content security."""

import logging
import secrets
from collections.abc import Callable
from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import render
from django.utils import timezone

from practice.errors import Refused
from practice.models import Practice

logger = logging.getLogger(__name__)
Get = Callable[[HttpRequest], HttpResponse]


def request_id(get_response: Get) -> Get:
    """Gives each request an id, which error pages show and the log carries."""

    def middleware(request: HttpRequest) -> HttpResponse:
        request.house_id = secrets.token_hex(6)  # type: ignore[attr-defined]  # ours, put on the request here
        response = get_response(request)
        response["X-Request-Id"] = request.house_id  # type: ignore[attr-defined]  # ours, put on the request here
        if response.status_code >= 500:
            logger.error(
                "request %s failed: %s", response["X-Request-Id"], request.path
            )
        return response

    return middleware


def bounded(get_response: Get) -> Get:
    """Refuses a body that is too large before any of it is read: files from those who
    are signed in may be large, all else is small."""

    def middleware(request: HttpRequest) -> HttpResponse:
        size = request.META.get("CONTENT_LENGTH") or "0"
        length = int(size) if size.isdecimal() else 0
        if length <= settings.DATA_UPLOAD_MAX_MEMORY_SIZE:
            return get_response(request)
        brings_files = request.content_type == "multipart/form-data"
        if (
            brings_files
            and request.user.is_authenticated
            and length <= settings.MOST_UPLOAD_BYTES
        ):
            return get_response(request)
        return HttpResponse(
            "This is too large to send at once: send less, or smaller files.",
            status=413,
            content_type="text/plain; charset=utf-8",
        )

    return middleware


def private_pages(get_response: Get) -> Get:
    """What is shown to someone who is signed in is kept by no cache on the way, and
    asked for anew by the browser; the API's answers are not kept at all. Signing out
    empties the browser's cache, so that 'back' shows nothing to the next one."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if request.path.startswith("/api/v"):
            response.headers.setdefault("Cache-Control", "private, no-store")
        elif request.user.is_authenticated:
            response.headers.setdefault("Cache-Control", "private, no-cache")
        return response

    return middleware


def _policy() -> str:
    images = "'self' data: blob:"
    if settings.TILE_URL:
        # {s} stands for one of several servers: a policy says * there.
        tiles = urlsplit(settings.TILE_URL.replace("{s}", "*"))
        images += f" {tiles.scheme}://{tiles.netloc}"
    return (
        f"default-src 'self'; img-src {images}; object-src 'none'; "
        "base-uri 'self'; form-action 'self'; frame-ancestors 'none'"
    )


def content_security_policy(get_response: Get) -> Get:
    """Everything from here, nothing inline."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", _policy())
        return response

    return middleware


class PackText(GZipMiddleware):
    """Packs pages and JSON, not photos and PDFs, which are packed already.

    A record page is a tenth of its size: it matters where the signal is weak. Django's
    middleware adds random bytes against guessing secrets from the packed size.
    """

    def process_response(
        self, request: HttpRequest, response: HttpResponseBase
    ) -> HttpResponseBase:
        kind = response.headers.get("Content-Type", "")
        if kind.startswith("text/") or "json" in kind or "svg" in kind:
            return super().process_response(request, response)
        return response


def practice_time(get_response: Get) -> Get:
    """Puts the practice on the request and counts days in its time zone."""

    def middleware(request: HttpRequest) -> HttpResponse:
        practice = Practice.objects.filter(pk=1).first()
        request.practice = practice  # type: ignore[attr-defined]  # ours, put on the request here
        if practice is not None:
            timezone.activate(practice.zone)
        try:
            return get_response(request)
        finally:
            timezone.deactivate()

    return middleware


def refusals(get_response: Get) -> Get:
    """A ``Refused`` that no page caught: shown on the page that it came from.

    Pages with a form catch it themselves, so that what was typed stays.
    """

    return _Refusals(get_response)


class _Refusals:
    def __init__(self, get_response: Get) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(
        self, request: HttpRequest, exception: Exception
    ) -> HttpResponse | None:
        if not isinstance(exception, Refused):
            return None
        return render(
            request, "refused.html", {"sentence": exception.sentence}, status=422
        )

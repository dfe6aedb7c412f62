"""API errors as problem details (RFC 9457)."""

from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404
from rest_framework import exceptions, status
from rest_framework.response import Response
from rest_framework.views import set_rollback

from practice.errors import Refused
from practice.reckoning import BadDocument

MEDIA_TYPE = "application/problem+json"
TITLES = {
    400: "The request can't be read",
    401: "Sign in first",
    403: "Not for this role",
    404: "Not there",
    405: "Not by this method",
    409: "It has changed meanwhile",
    413: "Too large",
    415: "Send JSON",
    422: "Something in it needs mending",
    429: "Too many tries",
}


def _pointers(detail: Any, at: str = "") -> list[dict[str, str]]:
    if isinstance(detail, dict):
        return [
            row
            for key, value in detail.items()
            for row in _pointers(
                value, at if key == "non_field_errors" else f"{at}/{_escaped(str(key))}"
            )
        ]
    if isinstance(detail, list):
        if all(isinstance(item, str) for item in detail):
            return [{"pointer": f"#{at}", "detail": str(item)} for item in detail]
        return [
            row
            for index, value in enumerate(detail)
            for row in _pointers(value, f"{at}/{index}")
        ]
    return [{"pointer": f"#{at}", "detail": str(detail)}]


def _escaped(part: str) -> str:
    return part.replace("~", "~0").replace("/", "~1")


def problem(code: int, detail: str, **more: Any) -> Response:
    """A response of media type ``application/problem+json``."""
    body = {
        "type": "about:blank",
        "title": TITLES.get(code, "It did not work"),
        "status": code,
        "detail": detail,
        **more,
    }
    return Response(body, status=code, content_type=MEDIA_TYPE)


def problem_details(error: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler for the house."""
    set_rollback()
    if isinstance(error, Refused):
        pointer = f"#/{error.field}" if error.field else "#"
        rows = [{"pointer": pointer, "detail": error.sentence}]
        return problem(422, error.sentence, errors=rows)
    if isinstance(error, BadDocument):
        rows = [{"pointer": f"#{error.pointer}", "detail": error.sentence}]
        return problem(422, error.sentence, errors=rows)
    if isinstance(error, exceptions.ValidationError):
        return problem(
            status.HTTP_422_UNPROCESSABLE_ENTITY,
            "See 'errors'.",
            errors=_pointers(error.detail),
        )
    if isinstance(error, Http404):
        return problem(404, "There is no such thing here, or it is not yours.")
    if isinstance(error, PermissionDenied):
        return problem(403, "Your role does not open this.")
    if isinstance(error, exceptions.APIException):
        response = problem(error.status_code, str(error.detail))
        if getattr(error, "auth_header", None):
            response["WWW-Authenticate"] = error.auth_header  # type: ignore[attr-defined]  # set by DRF on some of its errors
        if getattr(error, "wait", None):
            response["Retry-After"] = str(int(error.wait))  # type: ignore[attr-defined]  # set by DRF on some of its errors
        return response
    return None

"""The reckonings over the API: the same as ``manage.py reckon``, for signed-in users."""

import threading
from collections.abc import Mapping
from typing import IO, Any

from django.conf import settings
from django.http import Http404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.exceptions import APIException
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from practice import access
from practice.reckoning import (
    MOST_BYTES,
    BadDocument,
    Bounds,
    Reckoning,
    answer,
    gather,
    read,
)

BOUNDS = Bounds(most_seconds=10)
"""What one request may use of the web process."""
_searching = threading.Lock()


class TooLarge(APIException):
    """A document over the bound."""

    status_code = 413
    default_detail = f"The document is longer than {MOST_BYTES} bytes."


class Busy(APIException):
    """A reckoning that searches is under way already."""

    status_code = 503
    default_detail = "Another search is under way: try again in ten seconds."


class StrictJson(BaseParser):
    """JSON read as the command reads it: numbers as written, no NaN, no twin keys."""

    media_type = "application/json"

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        raw = stream.read(MOST_BYTES + 1)
        if len(raw) > MOST_BYTES:
            raise TooLarge
        # Wrapped, so that any JSON value reaches the schema, not only objects.
        return {"document": read(raw)}


def _named(what: str) -> Reckoning:
    found = gather(settings.HOUSE_APPS).get(what)
    if found is None:
        raise Http404
    return found


class ReckonDoor(APIView):
    """One reckoning on the document sent. No data of the practice is read."""

    permission_classes = [access.api_door(access.SIGNED_IN)]
    parser_classes = [StrictJson]

    @extend_schema(
        summary="A reckoning's schemas", responses={200: OpenApiTypes.OBJECT}
    )
    def get(self, request: Request, what: str) -> Response:
        """JSON Schema (2020-12) of input and output."""
        reckoning = _named(what)
        return Response(
            {
                "input": dict(reckoning.schema_in),
                "output": dict(reckoning.schema_out),
            }
        )

    @extend_schema(
        summary="Run a reckoning",
        request=OpenApiTypes.OBJECT,
        responses={200: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, what: str) -> Response:
        """The document in, the answer out; a bad document is 422 with its pointer."""
        reckoning = _named(what)
        if "document" not in request.data:  # an empty body is not parsed at all
            raise BadDocument("", "Send the document as JSON.")
        document = request.data["document"]
        if reckoning.run_within is None:
            return Response(answer(reckoning, document))
        if not _searching.acquire(blocking=False):
            raise Busy
        try:
            return Response(answer(reckoning, document, BOUNDS))
        finally:
            _searching.release()

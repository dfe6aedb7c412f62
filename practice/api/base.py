"""What the resources of the API share. Each resource is one small class with explicit
actions: door → serializer → one service or selector → answer.

A resource is written like this::

    class Horses(Resource[Horse]):
        permission_classes = [access.api_door(access.STAFF, write=access.BOOKS)]
        serializer_class = HorseSerializer

        def get_queryset(self):
            return Horse.objects.visible_to(self.viewer)

        def list(self, request):
            return self.paged(self.get_queryset())

        def retrieve(self, request, pk):
            return self.told(self.one())

Errors are problem details (``practice.problems``); a row that is not this viewer's is
404, as one that is not there.
"""

from typing import Any, Generic, TypeVar
from uuid import UUID

from django.contrib.auth.models import AnonymousUser
from django.db.models import Model, QuerySet
from rest_framework import serializers, status
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from practice import access
from practice.models import User

M = TypeVar("M", bound=Model)


class Resource(GenericViewSet[M], Generic[M]):
    """One resource: rows narrowed to the viewer, pages, answers."""

    @property
    def viewer(self) -> User | AnonymousUser:
        """Who asks; nobody while the schema is drawn up."""
        request: Request | None = getattr(self, "request", None)
        user = getattr(request, "user", None)
        return user if isinstance(user, User) else AnonymousUser()

    @property
    def member(self) -> User:
        """Who asks, behind a door that only users pass."""
        return access.member(self.request)

    def one(self) -> M:
        """The row that the address names, if it is there for this viewer."""
        return access.get(self.get_queryset(), pk=self.kwargs["pk"])

    def paged(self, rows: QuerySet[Any], as_: Any = None) -> Response:
        """A page of rows, by ``as_`` or the resource's own serializer."""
        page = self.paginate_queryset(rows) or []
        kind: Any = as_ or self.get_serializer_class()
        serializer = kind(page, many=True, context=self.get_serializer_context())
        return self.get_paginated_response(serializer.data)

    def told_all(self, rows: QuerySet[Any]) -> Response:
        """All rows at once, for a list that stays short; ``pagination_class = None``."""
        kind: Any = self.get_serializer_class()
        serializer = kind(rows, many=True, context=self.get_serializer_context())
        return Response(serializer.data)

    def told(
        self, row: Any, as_: Any = None, *, code: int = status.HTTP_200_OK
    ) -> Response:
        """One row, by ``as_`` or the resource's own serializer."""
        kind: Any = as_ or self.get_serializer_class()
        serializer = kind(row, context=self.get_serializer_context())
        return Response(serializer.data, status=code)


def idempotency_key(request: Request) -> UUID | None:
    """The request's ``Idempotency-Key``: a UUID, so that a repeat makes nothing twice.

    Raises:
        ValidationError: it is no UUID.
    """
    written = request.headers.get("Idempotency-Key", "").strip()
    if not written:
        return None
    try:
        return UUID(written)
    except ValueError as error:
        raise ValidationError(
            {"non_field_errors": ["The header Idempotency-Key is a UUID."]}
        ) from error


def asked(
    request: Request, serializer: type[serializers.Serializer[Any]], **more: Any
) -> dict[str, Any]:
    """The body as the serializer's cleaned values.

    Args:
        more: such as ``partial=True``.

    Raises:
        ValidationError: with what to mend; answered with 422. A field that the
            resource doesn't have is refused too, so that a typing slip is not silent.
    """
    body = request.data
    form = serializer(data=body, **more)
    form.is_valid(raise_exception=True)
    if isinstance(body, dict):
        strange = sorted(set(body) - set(form.fields))
        if strange:
            raise ValidationError(
                {name: ["There is no such field here."] for name in strange}
            )
    cleaned: dict[str, Any] = dict(form.validated_data)
    return cleaned

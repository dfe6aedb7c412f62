"""Clients, barns and areas, for programs."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from practice import access
from practice.api.base import Resource, asked, idempotency_key
from practice.geo import Position
from practice.models import Area, Barn, Client
from practice.selectors import barns_with, clients_with
from practice.serializers import (
    AreaEntrySerializer,
    AreaSerializer,
    BarnEntrySerializer,
    BarnSerializer,
    ClientEntrySerializer,
    ClientSerializer,
)
from practice.services.barns import Hours, add_barn, change_barn, name_area
from practice.services.clients import add_client, change_client

SEARCH = OpenApiParameter("search", str, description="words, each of which is there")
ASIDE = OpenApiParameter("aside", bool, description="those put aside instead")


def _aside(request: Request) -> bool:
    return request.query_params.get("aside", "").lower() in {"1", "true", "yes"}


class Clients(Resource[Client]):
    """Whom the practice deals with."""

    permission_classes = [access.api_door(access.STAFF, write=access.BOOKS)]
    serializer_class = ClientSerializer

    def get_queryset(self) -> QuerySet[Client]:
        return Client.objects.visible_to(self.viewer)

    @extend_schema(summary="List clients", parameters=[SEARCH, ASIDE])
    def list(self, request: Request) -> Response:
        """By name."""
        rows = clients_with(
            self.get_queryset(),
            words=request.query_params.get("search", "")[:100],
            aside=_aside(request),
        )
        return self.paged(rows)

    @extend_schema(
        summary="Enter a client",
        request=ClientEntrySerializer,
        responses={201: ClientSerializer},
    )
    def create(self, request: Request) -> Response:
        """Safe to repeat with the same Idempotency-Key. Another client with the same
        e-mail or phone is refused (422, ``#/sure``) unless ``sure`` is said."""
        said = asked(request, ClientEntrySerializer)
        client = add_client(by=self.member, key=idempotency_key(request), **said)
        return self.told(client, code=status.HTTP_201_CREATED)

    @extend_schema(summary="Read a client")
    def retrieve(self, request: Request, pk: int) -> Response:
        """One client."""
        return self.told(self.one())

    @extend_schema(
        summary="Change a client",
        request=ClientEntrySerializer,
        responses={200: ClientSerializer},
    )
    def partial_update(self, request: Request, pk: int) -> Response:
        """Only the fields that are sent."""
        said = asked(request, ClientEntrySerializer, partial=True)
        return self.told(change_client(client=self.one(), by=self.member, **said))


class Barns(Resource[Barn]):
    """Where horses are attended."""

    permission_classes = [access.api_door(access.STAFF, write=access.BOOKS)]
    serializer_class = BarnSerializer

    def get_queryset(self) -> QuerySet[Barn]:
        return (
            Barn.objects.visible_to(self.viewer)
            .select_related("area")
            .prefetch_related("access_hours")
        )

    @extend_schema(
        summary="List barns",
        parameters=[
            SEARCH,
            ASIDE,
            OpenApiParameter("area", str, description="an area's id, or 'none'"),
        ],
    )
    def list(self, request: Request) -> Response:
        """By name, with access hours."""
        rows = barns_with(
            self.get_queryset(),
            words=request.query_params.get("search", "")[:100],
            area=request.query_params.get("area", ""),
            aside=_aside(request),
        )
        return self.paged(rows)

    @extend_schema(
        summary="Enter a barn",
        request=BarnEntrySerializer,
        responses={201: BarnSerializer},
    )
    def create(self, request: Request) -> Response:
        """Safe to repeat with the same Idempotency-Key."""
        said = _places(asked(request, BarnEntrySerializer))
        barn = add_barn(by=self.member, key=idempotency_key(request), **said)
        row = access.get(self.get_queryset(), pk=barn.pk)
        return self.told(row, code=status.HTTP_201_CREATED)

    @extend_schema(summary="Read a barn")
    def retrieve(self, request: Request, pk: int) -> Response:
        """One barn."""
        return self.told(self.one())

    @extend_schema(
        summary="Change a barn",
        request=BarnEntrySerializer,
        responses={200: BarnSerializer},
    )
    def partial_update(self, request: Request, pk: int) -> Response:
        """Only the fields that are sent; access hours all or not at all."""
        said = _places(asked(request, BarnEntrySerializer, partial=True))
        change_barn(barn=self.one(), by=self.member, **said)
        return self.told(self.one())


def _places(said: dict[str, Any]) -> dict[str, Any]:
    """Degrees into a position, rows into hours, where they were sent."""
    if "latitude" in said:
        lat, lon = said.pop("latitude"), said.pop("longitude")
        said["position"] = None if lat is None else Position(lat, lon)
    if "access_hours" in said:
        said["hours"] = [Hours(**row) for row in said.pop("access_hours")]
    return said


class Areas(Resource[Area]):
    """Parts of the country that are served on their own days."""

    permission_classes = [access.api_door(access.STAFF, write=access.BOOKS)]
    serializer_class = AreaSerializer
    queryset = Area.objects.all()

    @extend_schema(summary="List areas")
    def list(self, request: Request) -> Response:
        """By name."""
        return self.paged(self.get_queryset())

    @extend_schema(
        summary="Enter an area",
        request=AreaEntrySerializer,
        responses={201: AreaSerializer},
    )
    def create(self, request: Request) -> Response:
        """The same name twice is one area."""
        said = asked(request, AreaEntrySerializer)
        return self.told(name_area(by=self.member, **said), code=201)

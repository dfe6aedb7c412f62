"""Horses, their owners and payers, and kinds of work, for programs."""

from datetime import timedelta
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from horses.models import Horse, Work
from horses.selectors import horses as selectors
from horses.serializers.horses import (
    HorseEntrySerializer,
    HorseSerializer,
    NewHorseSerializer,
    OwnersEntrySerializer,
    OwnershipSerializer,
    PayerEntrySerializer,
    PayerSerializer,
    WorkEntrySerializer,
    WorkSerializer,
)
from horses.services.ownership import end_payer, set_owners, set_payer
from horses.services.register import change_horse, create_horse
from horses.services.works import change_work, create_work
from practice import access
from practice.api.base import Resource, asked, idempotency_key
from practice.models import Barn

FILTERS = [
    OpenApiParameter("search", str, description="part of a name, breed or number"),
    OpenApiParameter("barn", int, description="at this barn"),
    OpenApiParameter(
        "status", str, enum=[*Horse.Status.values, selectors.ANY], description="active"
    ),
]


class Horses(Resource[Horse]):
    """The practice's horses."""

    permission_classes = [access.api_door(access.STAFF, write=access.BOOKS)]
    serializer_class = HorseSerializer

    def get_queryset(self) -> QuerySet[Horse]:
        return selectors.told(
            Horse.objects.visible_to(self.viewer), today=timezone.localdate()
        )

    @extend_schema(summary="List horses", parameters=FILTERS)
    def list(self, request: Request) -> Response:
        """By name; active ones unless ``status`` says otherwise."""
        barn = request.query_params.get("barn")
        barns = Barn.objects.visible_to(self.viewer)
        rows = selectors.listed(
            viewer=self.viewer,
            today=timezone.localdate(),
            search=request.query_params.get("search", ""),
            barn=access.get(barns, pk=barn) if barn else None,
            status=request.query_params.get("status") or Horse.Status.ACTIVE,
        )
        return self.paged(rows)

    @extend_schema(
        summary="Enter a horse",
        request=NewHorseSerializer,
        responses={201: HorseSerializer},
    )
    def create(self, request: Request) -> Response:
        """Its due window is reckoned at once."""
        said = asked(request, NewHorseSerializer)
        horse = create_horse(
            by=self.member,
            today=timezone.localdate(),
            key=idempotency_key(request),
            **said,
        )
        row = access.get(self.get_queryset(), pk=horse.pk)
        return self.told(row, code=status.HTTP_201_CREATED)

    @extend_schema(summary="Read a horse")
    def retrieve(self, request: Request, pk: int) -> Response:
        """With its due window and the owners of today."""
        return self.told(self.one())

    @extend_schema(
        summary="Change a horse",
        request=HorseEntrySerializer,
        responses={200: HorseSerializer},
    )
    def partial_update(self, request: Request, pk: int) -> Response:
        """Only the fields that are sent; the due window follows."""
        said = asked(request, HorseEntrySerializer, partial=True)
        change_horse(
            horse=self.one(), by=self.member, today=timezone.localdate(), **said
        )
        return self.told(self.one())


class Ownerships(Resource[Any]):
    """Who owns a horse, over time."""

    permission_classes = [access.api_door(access.STAFF, write=access.BOOKS)]
    serializer_class = OwnershipSerializer
    pagination_class = None

    def get_queryset(self) -> QuerySet[Horse]:
        return Horse.objects.visible_to(self.viewer)

    @extend_schema(
        summary="List owners over time", responses=OwnershipSerializer(many=True)
    )
    def list(self, request: Request, pk: int) -> Response:
        """Every period, oldest first. Shares add up to 100 on each day."""
        return self._all(self.one())

    @extend_schema(
        summary="Set the owners from a day on",
        request=OwnersEntrySerializer,
        responses={200: OwnershipSerializer(many=True)},
    )
    def create(self, request: Request, pk: int) -> Response:
        """Whoever owned it before does so until the day before."""
        said = asked(request, OwnersEntrySerializer)
        horse = self.one()
        set_owners(horse=horse, by=self.member, **said)
        return self._all(horse)

    def _all(self, horse: Horse) -> Response:
        rows = horse.ownerships.select_related("client")
        return self.told_all(rows)


class Payers(Resource[Any]):
    """Who is billed for a horse instead of its owners, over time."""

    permission_classes = [access.api_door(access.BOOKS)]
    serializer_class = PayerSerializer
    pagination_class = None

    def get_queryset(self) -> QuerySet[Horse]:
        return Horse.objects.visible_to(self.viewer)

    @extend_schema(
        summary="List payers over time", responses=PayerSerializer(many=True)
    )
    def list(self, request: Request, pk: int) -> Response:
        """Every period, oldest first. On other days the owners pay by share."""
        return self._all(self.one())

    @extend_schema(
        summary="Set who pays from a day on",
        request=PayerEntrySerializer,
        responses={200: PayerSerializer(many=True)},
    )
    def create(self, request: Request, pk: int) -> Response:
        """Without a client the owners pay again from that day on."""
        said = asked(request, PayerEntrySerializer)
        horse = self.one()
        more: dict[str, Any] = {"replace_later": said["replace_later"]}
        if said["client"] is None:
            last = said["starts"] - timedelta(days=1)
            end_payer(horse=horse, last_day=last, by=self.member, **more)
        else:
            set_payer(
                horse=horse,
                client=said["client"],
                starts=said["starts"],
                by=self.member,
                **more,
            )
        return self._all(horse)

    def _all(self, horse: Horse) -> Response:
        return self.told_all(horse.payers.select_related("client"))


class Works(Resource[Work]):
    """Kinds of work and the minutes that they take."""

    permission_classes = [access.api_door(access.STAFF, write=access.BOOKS)]
    serializer_class = WorkSerializer

    def get_queryset(self) -> QuerySet[Work]:
        return Work.objects.visible_to(self.viewer)

    @extend_schema(summary="List kinds of work")
    def list(self, request: Request) -> Response:
        """In the order of the practice."""
        return self.paged(self.get_queryset())

    @extend_schema(
        summary="Add a kind of work",
        request=WorkEntrySerializer,
        responses={201: WorkSerializer},
    )
    def create(self, request: Request) -> Response:
        """Last in the order."""
        said = asked(request, WorkEntrySerializer)
        work = create_work(by=self.member, key=idempotency_key(request), **said)
        return self.told(work, code=status.HTTP_201_CREATED)

    @extend_schema(summary="Read a kind of work")
    def retrieve(self, request: Request, pk: int) -> Response:
        """One kind of work."""
        return self.told(self.one())

    @extend_schema(
        summary="Change a kind of work",
        request=WorkEntrySerializer,
        responses={200: WorkSerializer},
    )
    def partial_update(self, request: Request, pk: int) -> Response:
        """Only the fields that are sent."""
        said = asked(request, WorkEntrySerializer, partial=True)
        return self.told(change_work(work=self.one(), by=self.member, **said))

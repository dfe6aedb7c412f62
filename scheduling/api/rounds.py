"""Due horses, rounds and bookings, for programs."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import (
    OpenApiParameter,
    OpenApiResponse,
    extend_schema,
)
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from horses.models import Horse
from practice import access
from practice.api.base import Resource, asked
from practice.api.schema import PROBLEM
from practice.models import Area, Barn, User
from scheduling.models import Booking, Round
from scheduling.selectors.booking import chosen_wishes
from scheduling.selectors.due import as_due, due_horses
from scheduling.selectors.handling import handling_of
from scheduling.selectors.rounds import with_stops
from scheduling.selectors.weights import weights_in_use
from scheduling.serializers.rounds import (
    AttendedSerializer,
    CallOffSerializer,
    DueFilterSerializer,
    DueSerializer,
    NewRoundSerializer,
    RoundFilterSerializer,
    RoundSerializer,
    days,
)
from scheduling.services import bookings as booking_service
from scheduling.services.rounds import book_round

_DUE_FILTERS = [
    OpenApiParameter("until", str, description="due by this day (two weeks ahead)"),
    OpenApiParameter("area", int, description="in this area"),
    OpenApiParameter("barn", int, description="at this barn"),
    OpenApiParameter("farrier", int, description="last treated by this farrier"),
]
_ROUND_FILTERS = [
    OpenApiParameter("since", str, description="from this day on (today)"),
    OpenApiParameter("until", str, description="up to this day"),
    OpenApiParameter("farrier", int, description="of this farrier"),
]
_PROBLEM = {"$ref": "#/components/schemas/Problem"}
_BAD_FILTERS: dict[Any, Any] = {
    (code, PROBLEM): OpenApiResponse(_PROBLEM, description=said)
    for code, said in ((404, "No such filter value"), (422, "A filter needs mending"))
}


def _filters(request: Request, form: Any) -> dict[str, Any]:
    told = form(data={key: request.query_params[key] for key in request.query_params})
    told.is_valid(raise_exception=True)
    return dict(told.validated_data)


class Due(Resource[Any]):
    """Who is due: horses due by a day, less those with a booking."""

    permission_classes = [access.api_door(access.STAFF)]
    serializer_class = DueSerializer

    def get_queryset(self) -> QuerySet[Horse]:
        return Horse.objects.visible_to(self.viewer)

    @extend_schema(
        summary="List due horses",
        parameters=_DUE_FILTERS,
        responses={200: DueSerializer(many=True), **_BAD_FILTERS},
    )
    def list(self, request: Request) -> Response:
        """Overdue first."""
        said = _filters(request, DueFilterSerializer)
        today, weights = timezone.localdate(), weights_in_use()
        found = due_horses(
            viewer=self.viewer,
            today=today,
            weights=weights,
            until=said.get("until"),
            area=access.get(Area.objects.all(), pk=said["area"])
            if "area" in said
            else None,
            barn=access.get(Barn.objects.visible_to(self.viewer), pk=said["barn"])
            if "barn" in said
            else None,
            farrier=access.get(User.objects.farriers(), pk=said["farrier"])
            if "farrier" in said
            else None,
        )
        page = self.paginate_queryset(found) or []
        handling = handling_of(page)
        rows = [
            as_due(horse, today=today, handling=handling, weights=weights)
            for horse in page
        ]
        told: Any = DueSerializer
        return self.get_paginated_response(told(rows, many=True).data)


class Rounds(Resource[Round]):
    """A farrier's days on the road."""

    permission_classes = [access.api_door(access.STAFF, write=access.BOOKS)]
    serializer_class = RoundSerializer

    def get_queryset(self) -> QuerySet[Round]:
        return with_stops(Round.objects.visible_to(self.viewer))

    @extend_schema(
        summary="List rounds",
        parameters=_ROUND_FILTERS,
        responses={200: RoundSerializer(many=True), **_BAD_FILTERS},
    )
    def list(self, request: Request) -> Response:
        """By day; from today on unless ``since`` or ``until`` is given."""
        said = _filters(request, RoundFilterSerializer)
        wanted = days(said) or {"day__gte": timezone.localdate()}
        rows = self.get_queryset().filter(**wanted)
        if "farrier" in said:
            rows = rows.filter(farrier=said["farrier"])
        return self.paged(rows.order_by("day", "farrier"))

    @extend_schema(
        summary="Book a round",
        request=NewRoundSerializer,
        responses={201: RoundSerializer},
    )
    def create(self, request: Request) -> Response:
        """Barns follow from the horses. Asking again adds nothing twice."""
        said = asked(request, NewRoundSerializer)
        typed = {row["barn"].pk: row["minutes"] for row in said["typed_minutes"]}
        round_ = book_round(
            farrier=said["farrier"],
            day=said["day"],
            wishes=chosen_wishes(said["horses"], typed),
            status=said["status"],
            note=said["note"],
            by=self.member,
            today=timezone.localdate(),
        )
        row = access.get(self.get_queryset(), pk=round_.pk)
        return self.told(row, code=status.HTTP_201_CREATED)

    @extend_schema(summary="Read a round")
    def retrieve(self, request: Request, pk: str) -> Response:
        """With its stops in order, and what it breaks."""
        return self.told(self.one())


class BookingActs(Resource[Booking]):
    """What becomes of a booking."""

    serializer_class = AttendedSerializer

    def get_queryset(self) -> QuerySet[Booking]:
        return Booking.objects.visible_to(self.viewer)


class Attend(BookingActs):
    """Opening the visit of a stop."""

    permission_classes = [access.api_door(access.TREATS)]

    @extend_schema(
        summary="Start the visit of a stop",
        request=None,
        responses={200: AttendedSerializer},
    )
    def create(self, request: Request, pk: str) -> Response:
        """Again: the same visit."""
        visit = booking_service.attend(
            booking=self.one(), by=self.member, today=timezone.localdate()
        )
        return self.told({"visit": visit.pk})


class CallOff(BookingActs):
    """Calling a booking off."""

    permission_classes = [access.api_door(access.BOOKS)]

    @extend_schema(
        summary="Call a booking off", request=CallOffSerializer, responses={204: None}
    )
    def create(self, request: Request, pk: str) -> Response:
        """Its horses are due again. Again: harmless."""
        said = asked(request, CallOffSerializer)
        booking_service.call_off(booking=self.one(), by=self.member, **said)
        return Response(status=status.HTTP_204_NO_CONTENT)

"""The day under way, for programs: taps, running late, who was told.

A tap may come twice, and later than it was made: the first one stands.
"""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from practice import access
from practice.api.base import Resource, asked, idempotency_key
from practice.models import Practice
from scheduling.models import Booking, Round
from scheduling.selectors.rounds import with_stops
from scheduling.selectors.underway import moved
from scheduling.serializers.day import (
    LateSerializer,
    NewsSerializer,
    NotedSerializer,
    QueuedSerializer,
    TapSerializer,
    TellSerializer,
    ToldSerializer,
)
from scheduling.serializers.rounds import RoundSerializer
from scheduling.services import telling, underway


class _Days(Resource[Round]):
    """A round of the viewer's, told with its new times."""

    serializer_class: Any = RoundSerializer

    def get_queryset(self) -> QuerySet[Round]:
        return Round.objects.visible_to(self.viewer).select_related("farrier")

    def timed(self, row: Round) -> Response:
        """The round as it goes now."""
        rows = with_stops(Round.objects.visible_to(self.viewer))
        return self.told(access.get(rows, pk=row.pk))


class RoundTap(_Days):
    """The taps at home: ``act`` is the service."""

    permission_classes = [access.api_door(access.TREATS)]
    act: Callable[..., Round]

    def tap(self, request: Request) -> Response:
        """Keeps it, and times the rest anew."""
        at: datetime = asked(request, TapSerializer)["at"]
        return self.timed(type(self).act(round_=self.one(), at=at, by=self.member))


class LeftHome(RoundTap):
    """Off from home."""

    act = staticmethod(underway.leave_home)

    @extend_schema(
        summary="Off from home", request=TapSerializer, responses={200: RoundSerializer}
    )
    def create(self, request: Request, pk: str) -> Response:
        """The day is timed from here. Again: the first one stands."""
        return self.tap(request)


class HomeAgain(RoundTap):
    """Home again."""

    act = staticmethod(underway.come_home)

    @extend_schema(
        summary="Home again", request=TapSerializer, responses={200: RoundSerializer}
    )
    def create(self, request: Request, pk: str) -> Response:
        """The day is kept. Again: the first one stands."""
        return self.tap(request)


class _Stops(_Days):
    """A stop of a round, by its booking."""

    def booking(self) -> Booking:
        """The booking that the address names."""
        rows = Booking.objects.visible_to(self.viewer)
        return access.get(rows.select_related("barn", "farrier"), pk=self.kwargs["pk"])


class There(_Stops):
    """At the barn."""

    permission_classes = [access.api_door(access.TREATS)]

    @extend_schema(
        summary="There", request=TapSerializer, responses={200: RoundSerializer}
    )
    def create(self, request: Request, pk: str) -> Response:
        """The farrier is at the barn. Again: the first one stands."""
        at = asked(request, TapSerializer)["at"]
        booking = self.booking()
        return self.timed(underway.arrive(booking=booking, at=at, by=self.member))


class Leave(_Stops):
    """Driving on."""

    permission_classes = [access.api_door(access.TREATS)]

    @extend_schema(
        summary="Leave", request=TapSerializer, responses={200: RoundSerializer}
    )
    def create(self, request: Request, pk: str) -> Response:
        """The farrier drives on. Again: the first one stands."""
        at = asked(request, TapSerializer)["at"]
        booking = self.booking()
        return self.timed(underway.leave(booking=booking, at=at, by=self.member))


class Late(_Stops):
    """Running late."""

    permission_classes = [access.api_door(access.STAFF)]

    @extend_schema(
        summary="Run late", request=LateSerializer, responses={200: RoundSerializer}
    )
    def create(self, request: Request, pk: str) -> Response:
        """So many minutes more, and the rest timed anew; nobody is told by this alone.
        Counted once with the same Idempotency-Key, or with ``was``."""
        said = asked(request, LateSerializer)
        return self.timed(
            underway.run_late(
                booking=self.booking(),
                key=idempotency_key(request),
                by=self.member,
                **said,
            )
        )


class LeaveOut(_Stops):
    """Leaving a stop out today."""

    permission_classes = [access.api_door(access.BOOKS)]

    @extend_schema(summary="Leave a stop out", request=None, responses={204: None})
    def create(self, request: Request, pk: str) -> Response:
        """Its horses are due again. Again: harmless."""
        underway.skip(booking=self.booking(), by=self.member, at=timezone.now())
        return Response(status=204)


class News(_Days):
    """Whom the new times concern."""

    permission_classes = [access.api_door(access.STAFF)]
    serializer_class = NewsSerializer
    pagination_class = None

    @extend_schema(
        summary="List whom new times concern",
        responses={200: NewsSerializer(many=True)},
    )
    def list(self, request: Request, pk: str) -> Response:
        """Stops that moved by ten minutes or more, and what each person knows."""
        practice = Practice.objects.the_one()
        rows = [
            _Worded(one, practice)
            for stop in moved(self.one())
            for one in telling.news_of(stop)
        ]
        told: Any = NewsSerializer
        return Response(told(rows, many=True).data)

    @extend_schema(
        summary="Mail the new times",
        request=TellSerializer,
        responses={200: QueuedSerializer},
    )
    def create(self, request: Request, pk: str) -> Response:
        """To those who don't prefer the phone; each new time once."""
        keys = {str(one) for one in asked(request, TellSerializer)["bookings"]}
        queued = telling.tell_late(round_=self.one(), only=keys, by=self.member)
        return self.told({"queued": queued}, QueuedSerializer)


class _Worded:
    """News with the words of its text message."""

    def __init__(self, news: telling.News, practice: Practice) -> None:
        self.moved, self.party = news.moved, news.party
        self.is_mailed, self.is_told = news.is_mailed, news.is_told
        party = news.party
        words = telling.draft_words(news.moved, party.name, practice, party.client)
        self.short = words["said"]["short"]


class Told(_Days):
    """Somebody told by phone."""

    permission_classes = [access.api_door(access.STAFF)]

    @extend_schema(
        summary="Note who was told by phone",
        request=ToldSerializer,
        responses={200: NotedSerializer},
    )
    def create(self, request: Request, pk: str) -> Response:
        """Kept with the start that was told. Again: harmless."""
        said = asked(request, ToldSerializer)
        booking, by = str(said.pop("booking")), self.member
        noted = telling.told_by_phone(round_=self.one(), booking=booking, by=by, **said)
        return self.told({"noted": noted}, NotedSerializer)

"""What owners and barn contacts are asked, and their answers, for programs."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from practice import access
from practice.api.base import Resource, asked
from practice.models import Practice, User
from scheduling.models import Ask, Booking
from scheduling.selectors import asks as select
from scheduling.selectors.slots import Fit, days_that_fit, wish_of
from scheduling.serializers.asks import (
    AnswerSerializer,
    AskSerializer,
    FitSerializer,
    WishSerializer,
)
from scheduling.services import answers as answering
from scheduling.services import asks as service

ANSWERERS = access.OWNER | access.BARN_CONTACT


class Asks(Resource[Ask]):
    """Asks about days ahead: the practice's, or those put to the viewer."""

    permission_classes = [access.api_door(access.STAFF | ANSWERERS)]
    serializer_class = AskSerializer

    def get_queryset(self) -> QuerySet[Ask]:
        return select.answers(viewer=self.viewer, today=timezone.localdate())

    @extend_schema(
        summary="List asks",
        parameters=[OpenApiParameter("state", str, enum=Ask.State.values)],
    )
    def list(self, request: Request) -> Response:
        """By day."""
        rows, state = self.get_queryset(), request.query_params.get("state")
        if state is not None and state not in Ask.State.values:
            raise ValidationError({"state": ["There is no such state."]})
        return self.paged(rows.filter(state=state) if state else rows)

    @extend_schema(summary="Read an ask")
    def retrieve(self, request: Request, pk: str) -> Response:
        """With its answer, if there is one."""
        return self.told(self.one())


class AskAbout(Resource[Booking]):
    """Asking about a booking."""

    permission_classes = [access.api_door(access.BOOKS)]
    serializer_class: Any = AskSerializer
    pagination_class = None

    def get_queryset(self) -> QuerySet[Booking]:
        return Booking.objects.visible_to(self.viewer)

    @extend_schema(
        summary="Ask about a booking",
        request=None,
        responses={200: AskSerializer(many=True)},
    )
    def create(self, request: Request, pk: str) -> Response:
        """Its owners and the barn's contacts, each once; the answer lists all who are
        asked by now. Whoever has no e-mail address is to be telephoned."""
        booking = self.one()
        service.ask_about(booking=booking, by=self.member)
        rows = Ask.objects.visible_to(self.viewer).standing().filter(booking=booking)
        return self.told_all(rows.select_related("booking__barn", "client", "contact"))


class AnswerAsk(Resource[Ask]):
    """Answering: by whoever was asked, or noted by the practice."""

    permission_classes = [access.api_door(access.BOOKS | ANSWERERS)]
    serializer_class = AskSerializer

    def get_queryset(self) -> QuerySet[Ask]:
        rows = Ask.objects.visible_to(self.viewer).standing()
        return rows.select_related(
            *("booking__barn", "booking__farrier", "client", "contact")
        )

    @extend_schema(
        summary="Answer an ask",
        request=AnswerSerializer,
        responses={200: AskSerializer},
    )
    def create(self, request: Request, pk: str) -> Response:
        """Again: the same. ``wishes`` are days of the ask's list."""
        ask = self.one()  # first: to others it is not there, whatever they send
        said = asked(request, AnswerSerializer)
        by = self.member if self.member.is_of_practice else None
        self.take(ask, said, by)
        return self.told(self.one())

    def take(self, ask: Ask, said: dict[str, Any], by: User | None) -> None:
        """Hands the answer to its service."""
        note: str = said["note"]
        if said["answer"] == "agree":
            answering.agree(ask=ask, noted_by=by)
        elif said["answer"] == "away":
            today = timezone.localdate()
            until = said["until"]
            answering.away(ask=ask, until=until, today=today, note=note, noted_by=by)
        elif said["answer"] == "call_off":
            answering.call_off_own(ask=ask, reason=note, noted_by=by)
        else:
            wishes = [wish_of(one) for one in _chosen(ask, said["wishes"])]
            answering.wish_other_day(ask=ask, wishes=wishes, note=note, noted_by=by)


class AskDays(AnswerAsk):
    """Days that could take what is asked about."""

    pagination_class = None

    @extend_schema(
        summary="List days that would fit", responses={200: FitSerializer(many=True)}
    )
    def list(self, request: Request, pk: str) -> Response:
        """The least added driving first."""
        told: Any = FitSerializer
        return Response(told(_fits(self.one()), many=True).data)


class TakeWish(AnswerAsk):
    """Moving a booking to a day that was wished."""

    permission_classes = [access.api_door(access.BOOKS)]

    @extend_schema(
        summary="Take a wish", request=WishSerializer, responses={200: AskSerializer}
    )
    def create(self, request: Request, pk: str) -> Response:
        """The booking moves there; whoever else was asked is asked anew."""
        ask, said = self.one(), asked(request, WishSerializer)
        answering.take_wish(
            ask=ask,
            day=said["day"],
            farrier=access.get(User.objects.farriers(), pk=said["farrier"]),
            by=self.member,
            today=timezone.localdate(),
        )
        return self.told(self.one())


def _fits(ask: Ask) -> list[Fit]:
    if not ask.booking.is_open:
        return []
    practice, today = Practice.objects.the_one(), timezone.localdate()
    return days_that_fit(booking=ask.booking, practice=practice, today=today)


def _chosen(ask: Ask, wishes: list[dict[str, Any]]) -> list[Fit]:
    """The days wished, each of which has to fit.

    Raises:
        ValidationError: one does not.
    """
    if not wishes:
        return []
    fits = {(fit.day, fit.farrier): fit for fit in _fits(ask)}
    wanted = [(one["day"], one["farrier"]) for one in wishes]
    if any(key not in fits for key in wanted):
        raise ValidationError({"wishes": ["Take days of the list that would fit."]})
    return [fits[key] for key in wanted]

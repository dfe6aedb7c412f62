"""Proposed weeks, for programs: asked for, read, moved, accepted, taken back."""

from dataclasses import asdict
from typing import Any

from django.db.models import QuerySet
from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from practice import access
from practice.api.base import Resource, asked, idempotency_key
from scheduling.models import Proposal, ProposalStep
from scheduling.selectors.moves import choices
from scheduling.selectors.proposals import last_step, viewed
from scheduling.serializers.proposals import (
    AcceptedSerializer,
    AcceptSerializer,
    ChoiceSerializer,
    MoveSerializer,
    NewProposalSerializer,
    ProposalSerializer,
    ProposedWeeksSerializer,
    UndoSerializer,
)
from scheduling.services import accepting, moving, undoing
from scheduling.services import proposals as proposal_service


class Proposals(Resource[Proposal]):
    """Weeks proposed: started here, reckoned by the worker, read when they are ready."""

    permission_classes = [access.api_door(access.STAFF, write=access.BOOKS)]
    serializer_class = ProposalSerializer

    def get_queryset(self) -> QuerySet[Proposal]:
        found = Proposal.objects.visible_to(self.viewer).defer("world", "travel")
        return found.prefetch_related("farriers")

    @extend_schema(summary="List proposals")
    def list(self, request: Request) -> Response:
        """The latest first."""
        return self.paged(self.get_queryset())

    @extend_schema(
        summary="Propose weeks",
        request=NewProposalSerializer,
        responses={202: ProposalSerializer},
    )
    def create(self, request: Request) -> Response:
        """Queued for the worker; read it until ``state`` is ready or failed. Safe to
        repeat with the same Idempotency-Key."""
        said = asked(request, NewProposalSerializer)
        made = proposal_service.start_proposal(
            key=idempotency_key(request),
            by=self.member,
            today=timezone.localdate(),
            **said,
        )
        row = access.get(self.get_queryset(), pk=made.pk)
        return self.told(row, code=status.HTTP_202_ACCEPTED)

    @extend_schema(
        summary="Read proposed weeks", responses={200: ProposedWeeksSerializer}
    )
    def retrieve(self, request: Request, pk: str) -> Response:
        """With its rounds, and who is left over and why, once it is ready."""
        return self.told(weeks_of(self.one()), ProposedWeeksSerializer)

    @extend_schema(summary="Throw a proposal away", responses={204: None})
    def destroy(self, request: Request, pk: str) -> Response:
        """What was booked from it stays."""
        proposal_service.drop_proposal(proposal=self.one())
        return Response(status=status.HTTP_204_NO_CONTENT)


def weeks_of(row: Proposal) -> dict[str, Any]:
    """A proposal with its rounds, as the API tells it."""
    said: dict[str, Any] = {
        "proposal": row,
        "rounds": [],
        "left_over": [],
        "can_wait": [],
        "drive_saved_minutes": None,
        "step": None,
        "weights": None,
    }
    if row.state == Proposal.State.READY:
        view = viewed(row)
        days = [day for week in view.weeks for day in week.days]
        said |= {
            "rounds": [one for day in days for one in day.cells if one.timed],
            "left_over": view.left,
            "can_wait": view.later,
            "drive_saved_minutes": view.saved,
            "step": last_step(row),
            "weights": asdict(view.world.instance.weights),
        }
    return said


class ProposalActs(Resource[Proposal]):
    """What is done with a proposal."""

    permission_classes = [access.api_door(access.BOOKS)]
    serializer_class: Any = ProposalSerializer

    def get_queryset(self) -> QuerySet[Proposal]:
        found = Proposal.objects.visible_to(self.viewer).defer("world", "travel")
        return found.prefetch_related("farriers")


class StopProposal(ProposalActs):
    """Ending a search."""

    @extend_schema(
        summary="Stop a search", request=None, responses={202: ProposalSerializer}
    )
    def create(self, request: Request, pk: str) -> Response:
        """It ends soon, with the best plan so far. Again: harmless."""
        proposal_service.stop_proposal(proposal=self.one())
        return self.told(self.one(), code=status.HTTP_202_ACCEPTED)


class ProposalCosts(ProposalActs):
    """Where a stop could go."""

    serializer_class = ChoiceSerializer
    pagination_class = None

    @extend_schema(
        summary="List where a stop could go",
        parameters=[OpenApiParameter("visit", str, required=True)],
        responses={200: ChoiceSerializer(many=True)},
    )
    def list(self, request: Request, pk: str) -> Response:
        """The cheapest first, days that refuse it last; none of a stop that is not
        there."""
        row = self.one()
        if row.state != Proposal.State.READY:
            raise Http404
        try:
            rows = choices(row, request.query_params.get("visit", ""))
        except KeyError:
            rows = []
        told: Any = ChoiceSerializer
        return Response(told(rows, many=True).data)


class MoveStop(ProposalActs):
    """Moving a stop of a proposal."""

    @extend_schema(
        summary="Move a stop of a proposal",
        request=MoveSerializer,
        responses={200: ProposedWeeksSerializer},
    )
    def create(self, request: Request, pk: str) -> Response:
        """Nothing is booked. Where it stands already: nothing changes."""
        said = asked(request, MoveSerializer)
        farrier = said.pop("farrier")
        moving.move_visit(
            proposal=self.one(),
            farrier="" if farrier is None else str(farrier),
            by=self.member,
            **said,
        )
        return self.told(weeks_of(self.one()), ProposedWeeksSerializer)


class UndoStep(ProposalActs):
    """Taking back what was done last."""

    @extend_schema(
        summary="Take back a move or an acceptance",
        request=UndoSerializer,
        responses={200: ProposedWeeksSerializer},
    )
    def create(self, request: Request, pk: str) -> Response:
        """One step after the other, the last first. Again: harmless."""
        steps = ProposalStep.objects.filter(proposal=self.one())
        step = access.get(steps, pk=asked(request, UndoSerializer)["step"])
        if step.kind == ProposalStep.Kind.ACCEPTED:
            today = timezone.localdate()
            undoing.undo_accept(step=step, by=self.member, today=today)
        else:
            moving.undo_move(step=step)
        return self.told(weeks_of(self.one()), ProposedWeeksSerializer)


class AcceptProposal(ProposalActs):
    """Taking a proposal over into bookings."""

    serializer_class = AcceptedSerializer

    @extend_schema(
        summary="Accept proposed weeks",
        request=AcceptSerializer,
        responses={200: AcceptedSerializer},
    )
    def create(self, request: Request, pk: str) -> Response:
        """New stops are pencilled, moved ones moved. Again: nothing. Refused (422)
        where something has changed since it was reckoned."""
        said = asked(request, AcceptSerializer)
        done = accepting.accept(
            proposal=self.one(),
            by=self.member,
            today=timezone.localdate(),
            visits=said.get("visits"),
            days=[(one["day"], str(one["farrier"])) for one in said["days"]]
            if "days" in said
            else None,
        )
        return self.told(done)

"""Visits and records, for programs: a phone that was out of reach sends here."""

from typing import Any

from django.db.models import Prefetch, QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from horses.models import Horse, Visit, VisitRecord
from horses.selectors.records import with_feet
from horses.serializers.visits import (
    RecordEntrySerializer,
    RecordSerializer,
    VisitEntrySerializer,
    VisitFilterSerializer,
    VisitSerializer,
    VisitWholeSerializer,
    entry_from,
)
from horses.services.records import Conflict, save_record
from horses.services.visits import open_visit
from practice import access
from practice.api.base import Resource, asked
from practice.problems import problem

CODES = {"new": 201, "saved": 200, "replay": 200}


class Visits(Resource[Visit]):
    """One attendance of one farrier at one barn on one day."""

    permission_classes = [access.api_door(access.STAFF, write=access.TREATS)]
    serializer_class = VisitSerializer

    def get_queryset(self) -> QuerySet[Visit]:
        return Visit.objects.visible_to(self.viewer).select_related("barn")

    def _whole(self) -> QuerySet[Visit]:
        records = with_feet(VisitRecord.objects.visible_to(self.viewer))
        return self.get_queryset().prefetch_related(
            Prefetch("records", queryset=records)
        )

    @extend_schema(summary="List visits", parameters=[VisitFilterSerializer])
    def list(self, request: Request) -> Response:
        """Newest first; by state, barn, horse or since a day."""
        form = VisitFilterSerializer(data=request.query_params)
        form.is_valid(raise_exception=True)
        said = dict(form.validated_data)
        rows = self.get_queryset()
        names = {"state": "state", "barn": "barn", "since": "day__gte"}
        rows = rows.filter(**{names[key]: said[key] for key in names if key in said})
        if "horse" in said:
            rows = rows.filter(records__horse=said["horse"])
        return self.paged(rows)

    @extend_schema(
        summary="Open a visit",
        request=VisitEntrySerializer,
        responses={201: VisitWholeSerializer, 200: VisitWholeSerializer},
    )
    def create(self, request: Request) -> Response:
        """201 when it is new. 200 when the same ``id``, or your open visit to this
        barn on this day, was there; horses that it lacked are added.
        """
        said = asked(request, VisitEntrySerializer)
        was_there = Visit.objects.filter(pk=said["id"]).exists()
        visit = open_visit(
            key=said["id"],
            barn=said["barn"],
            farrier=self.member,
            day=said["day"],
            horses=said["horses"],
            by=self.member,
            travel_minutes=said.get("travel_minutes"),
            travel_metres=said.get("travel_metres"),
        )
        is_new = visit.pk == said["id"] and not was_there
        row = access.get(self._whole(), pk=visit.pk)
        return self.told(row, VisitWholeSerializer, code=201 if is_new else 200)

    @extend_schema(summary="Read a visit", responses={200: VisitWholeSerializer})
    def retrieve(self, request: Request, pk: Any) -> Response:
        """One visit with its records."""
        row = access.get(self._whole(), pk=pk)
        return self.told(row, VisitWholeSerializer)


class Records(Resource[VisitRecord]):
    """What was found and done for one horse at a visit."""

    permission_classes = [
        access.api_door(access.STAFF | access.OWNER, write=access.TREATS)
    ]
    serializer_class = RecordSerializer

    def get_queryset(self) -> QuerySet[VisitRecord]:
        return with_feet(VisitRecord.objects.visible_to(self.viewer))

    @extend_schema(summary="Read a record")
    def retrieve(self, request: Request, pk: Any) -> Response:
        """One record, feet and all. An owner reads those of closed visits."""
        return self.told(self.one())

    @extend_schema(
        summary="Save a record",
        request=RecordEntrySerializer,
        responses={
            201: RecordSerializer,
            200: RecordSerializer,
            (409, "application/problem+json"): OpenApiTypes.OBJECT,
        },
        parameters=[OpenApiParameter("id", OpenApiTypes.UUID, "path")],
    )
    def update(self, request: Request, pk: Any) -> Response:
        """The whole record under a UUIDv7 of the maker's. 201: new. 200: replayed, or
        changed from ``base_revision``. 409: someone saved it since; the answer's
        ``revision`` is the one that stands.
        """
        said = asked(request, RecordEntrySerializer)
        visit = access.get(Visit.objects.visible_to(self.member), pk=said["visit"].pk)
        horse = access.get(Horse.objects.visible_to(self.member), pk=said["horse"].pk)
        try:
            saved = save_record(
                key=pk,
                visit=visit,
                horse=horse,
                entry=entry_from(said),
                base_revision=said.get("base_revision"),
                by=self.member,
            )
        except Conflict as conflict:
            return problem(
                status.HTTP_409_CONFLICT, conflict.sentence, revision=conflict.revision
            )
        row = access.get(self.get_queryset(), pk=saved.record.pk)
        return self.told(row, code=CODES[saved.outcome])

"""What the API takes and gives of visits and their records."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from horses.entries import (
    LENGTHS,
    MEASURES,
    FindingEntry,
    FootEntry,
    RecordEntry,
    ShoeEntry,
    as_document,
)
from horses.findings import KINDS, PLACES
from horses.models import FootRecord, Horse, Shoe, Visit, VisitRecord, Work
from horses.models.visit import Foot
from horses.selectors.records import entry_of
from practice.models import Barn

FINDING_KINDS = [(key, kind.label) for key, kind in KINDS.items()]


class _Strict(serializers.Serializer[Any]):
    """A body in which a field that it doesn't have is refused, also deep inside."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, dict):
            strange = sorted(str(name) for name in set(data) - set(self.fields))
            if strange:
                raise serializers.ValidationError(
                    {name: ["There is no such field here."] for name in strange}
                )
        return super().to_internal_value(data)


def _text(most: int) -> serializers.CharField:
    return serializers.CharField(max_length=most, allow_blank=True, required=False)


def _decimal(digits: int, help_text: str = "") -> serializers.DecimalField:
    return serializers.DecimalField(
        max_digits=digits,
        decimal_places=1,
        allow_null=True,
        required=False,
        help_text=help_text,
    )


def _choice(choices: Any) -> serializers.ChoiceField:
    return serializers.ChoiceField(choices=choices, allow_blank=True, required=False)


def _nails() -> serializers.IntegerField:
    return serializers.IntegerField(
        min_value=0, max_value=8, allow_null=True, required=False
    )


class FindingEntrySerializer(_Strict):
    """Something seen on a foot."""

    kind = serializers.ChoiceField(choices=FINDING_KINDS)
    place = _choice(list(PLACES.items()))
    grade = _text(20)
    note = _text(300)


class ShoeEntrySerializer(_Strict):
    """What was fitted. Sections in millimetres, nails by branch."""

    profile = _choice(Shoe.Profile.choices)
    metal = _choice(Shoe.Metal.choices)
    section_width_mm = _decimal(4)
    section_thickness_mm = _decimal(4)
    style = _text(40)  # type: ignore[assignment]  # the metaclass takes it out
    size = _text(20)
    toe_treatment = _choice(Shoe.Toe.choices)
    toe_place = _choice(Shoe.ToePlace.choices)
    clips = _text(40)
    heels = _text(80)
    traction = _text(80)
    pad = _text(80)
    nails_medial = _nails()
    nails_lateral = _nails()
    note = _text(300)


class FootEntrySerializer(_Strict):
    """One foot. Lengths millimetres, angles degrees, before the trim unless said."""

    foot = serializers.ChoiceField(choices=Foot.choices)
    work = _choice(FootRecord.Work.choices)
    findings = FindingEntrySerializer(many=True, required=False)
    shoe = ShoeEntrySerializer(required=False, allow_null=True)
    note = _text(2000)

    def get_fields(self) -> dict[str, Any]:
        measures = {
            name: _decimal(5 if name in LENGTHS else 4, help_text=words)
            for name, words in MEASURES.items()
        }
        return super().get_fields() | measures


class RecordEntrySerializer(_Strict):
    """The whole record of one horse at a visit, as its maker saw it."""

    visit = serializers.PrimaryKeyRelatedField(queryset=Visit.objects.all())
    horse = serializers.PrimaryKeyRelatedField(queryset=Horse.objects.all())
    base_revision = serializers.IntegerField(
        min_value=0,
        allow_null=True,
        required=False,
        help_text="the revision that the maker had seen; leave out for a new record",
    )
    work = serializers.PrimaryKeyRelatedField(
        queryset=Work.objects.on_horses(), allow_null=True, required=False
    )
    way_of_going = _text(5000)
    note = _text(5000)
    advice = _text(5000)
    vet_advised = serializers.BooleanField(default=False)
    feet = FootEntrySerializer(many=True, required=False)


def entry_from(said: dict[str, Any]) -> RecordEntry:
    """The entry that cleaned values of ``RecordEntrySerializer`` say."""
    work = said.get("work")
    return RecordEntry(
        work=work.pk if work else None,
        way_of_going=said.get("way_of_going", ""),
        note=said.get("note", ""),
        advice=said.get("advice", ""),
        vet_advised=said.get("vet_advised", False),
        feet=tuple(_foot_from(foot) for foot in said.get("feet", [])),
    )


def _foot_from(said: dict[str, Any]) -> FootEntry:
    shoe = said.get("shoe")
    rest = {name: value for name, value in said.items() if name != "shoe"}
    seen = tuple(FindingEntry(**row) for row in rest.pop("findings", []))
    return FootEntry(
        **rest, findings=seen, shoe=ShoeEntry(**shoe) if shoe is not None else None
    )


class RecordSerializer(serializers.ModelSerializer[VisitRecord]):
    """A record as it stands, feet and all."""

    horse_name = serializers.CharField(source="horse.name", read_only=True)
    day = serializers.DateField(source="visit.day", read_only=True)
    feet = serializers.SerializerMethodField()

    class Meta:
        model = VisitRecord
        fields = [
            "id",
            "visit",
            "day",
            "horse",
            "horse_name",
            "is_recorded",
            "revision",
            "work",
            "way_of_going",
            "note",
            "advice",
            "vet_advised",
            "feet",
            "changed_at",
        ]
        read_only_fields = fields

    @extend_schema_field(FootEntrySerializer(many=True))
    def get_feet(self, record: VisitRecord) -> Any:
        return as_document(entry_of(record))["feet"]


class VisitSerializer(serializers.ModelSerializer[Visit]):
    """A visit without its records."""

    barn_name = serializers.SerializerMethodField(help_text="empty without a barn")

    class Meta:
        model = Visit
        fields = [
            "id",
            "day",
            "barn",
            "barn_name",
            "farrier",
            "kind",
            "state",
            "closed_at",
            "travel_minutes",
            "travel_metres",
            "note",
            "changed_at",
        ]
        read_only_fields = fields

    def get_barn_name(self, visit: Visit) -> str:
        return visit.barn.name if visit.barn else ""


class VisitWholeSerializer(VisitSerializer):
    """A visit with its records."""

    records = RecordSerializer(many=True, read_only=True)

    class Meta(VisitSerializer.Meta):
        fields = [*VisitSerializer.Meta.fields, "records"]
        read_only_fields = fields


class VisitEntrySerializer(serializers.Serializer[Any]):
    """A visit to open. ``id`` is a UUIDv7 made by the maker: sent twice, it is one."""

    id = serializers.UUIDField()
    barn = serializers.PrimaryKeyRelatedField(queryset=Barn.objects.all())
    day = serializers.DateField()
    horses = serializers.PrimaryKeyRelatedField(queryset=Horse.objects.all(), many=True)
    travel_minutes = serializers.IntegerField(
        min_value=0, max_value=1440, allow_null=True, required=False
    )
    travel_metres = serializers.IntegerField(
        min_value=0, max_value=2_000_000, allow_null=True, required=False
    )


class VisitFilterSerializer(serializers.Serializer[Any]):
    """Which visits are asked for."""

    state = serializers.ChoiceField(choices=Visit.State.choices, required=False)
    barn = serializers.IntegerField(required=False)
    horse = serializers.IntegerField(required=False)
    since = serializers.DateField(required=False, help_text="this day or later")

"""What the API takes and gives of horses, their owners, and kinds of work."""

from fractions import Fraction
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from horses.height import format_height
from horses.models import DueWindow, Horse, Ownership, Payer, Work
from horses.shares import parse_share, settle
from practice.errors import Refused
from practice.models import Barn, Client, User


class DueWindowSerializer(serializers.ModelSerializer[DueWindow]):
    """When the next visit is due, and how that came about."""

    class Meta:
        model = DueWindow
        fields = [
            "earliest",
            "target",
            "latest",
            "ready_by",
            "basis",
            "last_visit_day",
            "weeks",
            "why",
            "guide_foot",
            "questionable",
        ]


class ShareSerializer(serializers.ModelSerializer[Ownership]):
    """An owner of today, with the share in percent."""

    name = serializers.CharField(source="client.name", read_only=True)

    class Meta:
        model = Ownership
        fields = ["client", "name", "share"]


class HorseSerializer(serializers.ModelSerializer[Horse]):
    """A horse, with its due window and the owners of today."""

    barn_name = serializers.SerializerMethodField(help_text="empty without a barn")
    height_words = serializers.SerializerMethodField(help_text="157 cm (15.2 hh)")
    due = serializers.SerializerMethodField()
    owners = ShareSerializer(source="owners_now", many=True, read_only=True)

    class Meta:
        model = Horse
        fields = [
            "id",
            "name",
            "barn",
            "barn_name",
            "breed",
            "sex",
            "colour",
            "foaled_year",
            "foaled_on",
            "height_mm",
            "height_words",
            "mass_kg",
            "use",
            "use_note",
            "ueln",
            "microchip",
            "cautions",
            "conformation",
            "interval_weeks",
            "usual_work",
            "usual_work_note",
            "agreed_price",
            "status",
            "notes",
            "due",
            "owners",
            "created_at",
            "changed_at",
        ]

    def get_barn_name(self, horse: Horse) -> str:
        return horse.barn.name if horse.barn else ""

    def get_height_words(self, horse: Horse) -> str:
        return format_height(horse.height_mm) if horse.height_mm else ""

    @extend_schema_field(DueWindowSerializer(allow_null=True))
    def get_due(self, horse: Horse) -> Any:
        window = getattr(horse, "due_window", None)
        return DueWindowSerializer(window).data if window else None

    def to_representation(self, instance: Horse) -> dict[str, Any]:
        """Prices are for those who keep the books."""
        told: dict[str, Any] = super().to_representation(instance)
        viewer = getattr(self.context.get("request"), "user", None)
        if not (isinstance(viewer, User) and viewer.keeps_books):
            told["agreed_price"] = None
        return told


class SharePartSerializer(serializers.Serializer[Any]):
    """An owner and the share, as percent (60) or as a fraction (1/3)."""

    client = serializers.PrimaryKeyRelatedField(queryset=Client.objects.all())
    share = serializers.CharField(max_length=20)

    def validate_share(self, value: str) -> Fraction:
        try:
            return parse_share(value)
        except Refused as refusal:
            raise serializers.ValidationError(refusal.sentence) from refusal


def _settled(parts: list[dict[str, Any]]) -> dict[Client, Any]:
    """The shares by client, together one whole horse."""
    clients = [part["client"] for part in parts]
    if len(set(clients)) < len(clients):
        raise serializers.ValidationError("Name each owner once.")
    try:
        shares = settle([part["share"] for part in parts])
    except Refused as refusal:
        raise serializers.ValidationError(refusal.sentence) from refusal
    return dict(zip(clients, shares, strict=True))


class HorseEntrySerializer(serializers.Serializer[Any]):
    """What can be said of a horse. Lengths millimetres, mass kilograms."""

    name = serializers.CharField(max_length=120)
    barn = serializers.PrimaryKeyRelatedField(
        queryset=Barn.objects.all(), allow_null=True, required=False
    )
    breed = serializers.CharField(max_length=80, allow_blank=True, required=False)
    sex = serializers.ChoiceField(
        choices=Horse.Sex.choices, allow_blank=True, required=False
    )
    colour = serializers.CharField(max_length=60, allow_blank=True, required=False)
    foaled_year = serializers.IntegerField(allow_null=True, required=False)
    foaled_on = serializers.DateField(allow_null=True, required=False)
    height_mm = serializers.IntegerField(allow_null=True, required=False)
    mass_kg = serializers.IntegerField(allow_null=True, required=False)
    use = serializers.ChoiceField(
        choices=Horse.Use.choices, allow_blank=True, required=False
    )
    use_note = serializers.CharField(max_length=120, allow_blank=True, required=False)
    ueln = serializers.CharField(max_length=30, allow_blank=True, required=False)
    microchip = serializers.CharField(max_length=30, allow_blank=True, required=False)
    cautions = serializers.CharField(allow_blank=True, required=False)
    conformation = serializers.CharField(allow_blank=True, required=False)
    interval_weeks = serializers.IntegerField(
        min_value=1, max_value=52, allow_null=True, required=False
    )
    usual_work = serializers.PrimaryKeyRelatedField(
        queryset=Work.objects.on_horses(), allow_null=True, required=False
    )
    usual_work_note = serializers.CharField(
        max_length=200, allow_blank=True, required=False
    )
    agreed_price = serializers.DecimalField(
        max_digits=9, decimal_places=2, min_value=0, allow_null=True, required=False
    )
    status = serializers.ChoiceField(choices=Horse.Status.choices, required=False)
    notes = serializers.CharField(allow_blank=True, required=False)


class NewHorseSerializer(HorseEntrySerializer):
    """A horse to enter, with its owners if known."""

    owners = SharePartSerializer(many=True, required=False)
    owners_from = serializers.DateField(required=False, help_text="today if left out")

    def validate_owners(self, parts: list[dict[str, Any]]) -> dict[Client, Any]:
        return _settled(parts)


class OwnershipSerializer(serializers.ModelSerializer[Ownership]):
    """A client's share in a horse over a period; an open end is null."""

    name = serializers.CharField(source="client.name", read_only=True)

    class Meta:
        model = Ownership
        fields = ["client", "name", "share", "starts", "ends"]


class OwnersEntrySerializer(serializers.Serializer[Any]):
    """Who owns the horse from a day on."""

    shares = SharePartSerializer(many=True)
    starts = serializers.DateField()
    replace_later = serializers.BooleanField(
        default=False, help_text="drop what is entered for later days"
    )

    def validate_shares(self, parts: list[dict[str, Any]]) -> dict[Client, Any]:
        return _settled(parts)


class PayerSerializer(serializers.ModelSerializer[Payer]):
    """Who is billed over a period instead of the owners."""

    name = serializers.CharField(source="client.name", read_only=True)

    class Meta:
        model = Payer
        fields = ["client", "name", "starts", "ends"]


class PayerEntrySerializer(serializers.Serializer[Any]):
    """Who is billed from a day on; without a client the owners are, by share."""

    client = serializers.PrimaryKeyRelatedField(
        queryset=Client.objects.all(), allow_null=True
    )
    starts = serializers.DateField()
    replace_later = serializers.BooleanField(
        default=False, help_text="drop what is entered for later days"
    )


class WorkSerializer(serializers.ModelSerializer[Work]):
    """A kind of work and the minutes that a horse takes."""

    class Meta:
        model = Work
        fields = ["id", "name", "kind", "minutes", "is_active"]
        read_only_fields = fields


class WorkEntrySerializer(serializers.Serializer[Any]):
    """What can be said of a kind of work."""

    name = serializers.CharField(max_length=80)
    kind = serializers.ChoiceField(choices=Work.Kind.choices)
    minutes = serializers.IntegerField(min_value=0, max_value=480)
    is_active = serializers.BooleanField(required=False)

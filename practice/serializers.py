"""What the API takes and gives that belongs to no single resource."""

from typing import Any

from rest_framework import serializers

from practice.languages import LANGUAGES
from practice.models import AccessHours, Area, Barn, Client


class SignInSerializer(serializers.Serializer[Any]):
    """What a program signs in with."""

    email = serializers.EmailField()
    password = serializers.CharField(trim_whitespace=False, write_only=True)
    name = serializers.CharField(
        max_length=80, required=False, help_text="what will use the token"
    )


class TokenSerializer(serializers.Serializer[Any]):
    """What it sends from then on: ``Authorization: Token …``."""

    token = serializers.CharField(read_only=True)
    role = serializers.CharField(read_only=True)


class ClientSerializer(serializers.ModelSerializer[Client]):
    """A client, as told."""

    class Meta:
        model = Client
        fields = (
            *("id", "name", "kind", "phone", "email"),
            *("street", "town", "post_code", "country"),
            *("tax_number", "payment_days", "language", "notes", "is_active"),
            *("created_at", "changed_at"),
        )
        read_only_fields = fields


class ClientEntrySerializer(serializers.Serializer[Any]):
    """What can be said about a client; a PATCH says only what changes."""

    name = serializers.CharField(max_length=120)
    kind = serializers.ChoiceField(
        choices=Client.Kind.choices, default=Client.Kind.PERSON
    )
    phone = serializers.CharField(max_length=40, required=False, allow_blank=True)
    email = serializers.EmailField(required=False, allow_blank=True)
    street = serializers.CharField(max_length=200, required=False, allow_blank=True)
    town = serializers.CharField(max_length=100, required=False, allow_blank=True)
    post_code = serializers.CharField(max_length=20, required=False, allow_blank=True)
    country = serializers.RegexField(
        "^([A-Z]{2})?$", required=False, allow_blank=True, help_text="two letters"
    )
    tax_number = serializers.CharField(max_length=40, required=False, allow_blank=True)
    payment_days = serializers.IntegerField(
        min_value=0, max_value=365, required=False, allow_null=True
    )
    language = serializers.ChoiceField(
        choices=LANGUAGES,
        required=False,
        allow_blank=True,
        help_text="of documents and mails; empty: the practice's",
    )
    notes = serializers.CharField(required=False, allow_blank=True)
    sure = serializers.BooleanField(
        required=False,
        help_text="enter it even where another has the same e-mail or phone",
    )


class AreaSerializer(serializers.ModelSerializer[Area]):
    """An area."""

    class Meta:
        model = Area
        fields = ("id", "name")
        read_only_fields = fields


class HoursSerializer(serializers.ModelSerializer[AccessHours]):
    """A time of a weekday (ISO 8601: Monday is 1) when a barn can be attended."""

    opens = serializers.TimeField()
    closes = serializers.TimeField()

    class Meta:
        model = AccessHours
        fields = ("weekday", "opens", "closes")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """It ends after it begins."""
        if attrs["closes"] <= attrs["opens"]:
            raise serializers.ValidationError(
                {"closes": ["Access ends before it begins."]}
            )
        return attrs


class BarnSerializer(serializers.ModelSerializer[Barn]):
    """A barn, as told. Degrees are WGS 84; null where nobody knows."""

    latitude = serializers.FloatField(read_only=True, allow_null=True)
    longitude = serializers.FloatField(read_only=True, allow_null=True)
    area = AreaSerializer(read_only=True, allow_null=True)
    run_by = serializers.PrimaryKeyRelatedField[Client](read_only=True, allow_null=True)
    access_hours = HoursSerializer(many=True, read_only=True)

    class Meta:
        model = Barn
        fields = (
            *("id", "name", "street", "town", "post_code", "country"),
            *("latitude", "longitude", "area", "run_by", "phone"),
            *("setup_minutes", "typed_drive_minutes", "access_hours"),
            *("directions", "standing", "notes", "is_active"),
            *("created_at", "changed_at"),
        )
        read_only_fields = fields


class BarnEntrySerializer(serializers.Serializer[Any]):
    """What can be said about a barn; a PATCH says only what changes."""

    name = serializers.CharField(max_length=120)
    street = serializers.CharField(max_length=200, required=False, allow_blank=True)
    town = serializers.CharField(max_length=100, required=False, allow_blank=True)
    post_code = serializers.CharField(max_length=20, required=False, allow_blank=True)
    country = serializers.RegexField(
        "^([A-Z]{2})?$", required=False, allow_blank=True, help_text="two letters"
    )
    latitude = serializers.FloatField(
        min_value=-90, max_value=90, required=False, allow_null=True
    )
    longitude = serializers.FloatField(
        min_value=-180, max_value=180, required=False, allow_null=True
    )
    area = serializers.PrimaryKeyRelatedField(
        queryset=Area.objects.all(), required=False, allow_null=True
    )
    run_by = serializers.PrimaryKeyRelatedField(
        queryset=Client.objects.all(), required=False, allow_null=True
    )
    phone = serializers.CharField(max_length=40, required=False, allow_blank=True)
    setup_minutes = serializers.IntegerField(min_value=0, max_value=240, required=False)
    typed_drive_minutes = serializers.IntegerField(
        min_value=0, max_value=600, required=False, allow_null=True
    )
    directions = serializers.CharField(required=False, allow_blank=True)
    standing = serializers.CharField(required=False, allow_blank=True)
    notes = serializers.CharField(required=False, allow_blank=True)
    access_hours = HoursSerializer(
        many=True, required=False, help_text="all of them; none: always open"
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Latitude and longitude go together."""
        given = {name: attrs.get(name) for name in ("latitude", "longitude")}
        if ("latitude" in attrs) != ("longitude" in attrs) or (
            (given["latitude"] is None) != (given["longitude"] is None)
        ):
            raise serializers.ValidationError(
                {"longitude": ["Give latitude and longitude together."]}
            )
        return attrs


class AreaEntrySerializer(serializers.Serializer[Any]):
    """An area's name."""

    name = serializers.CharField(max_length=80)

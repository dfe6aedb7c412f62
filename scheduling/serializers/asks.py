"""What the API takes and gives of what owners and barn contacts are asked."""

from typing import Any

from rest_framework import serializers

from scheduling.models import Ask
from scheduling.models.asks import ANSWERS
from scheduling.planner.one_day import clock


class WishSerializer(serializers.Serializer[Any]):
    """A day that would suit instead."""

    day = serializers.DateField()
    farrier = serializers.IntegerField()


class AskSerializer(serializers.ModelSerializer[Ask]):
    """One owner or barn contact, asked about one booking on its day."""

    barn_name = serializers.CharField(source="booking.barn.name")
    who = serializers.CharField(help_text="name of whoever is asked")
    wishes = WishSerializer(many=True)

    class Meta:
        model = Ask
        fields = [
            *("id", "booking", "barn_name", "who", "day", "starts_at", "state"),
            *("answered_at", "wishes", "away_until", "note"),
        ]
        read_only_fields = fields


class FitSerializer(serializers.Serializer[Any]):
    """A day that could take the booking."""

    day = serializers.DateField()
    farrier = serializers.IntegerField()
    drive_minutes = serializers.IntegerField(source="drive", help_text="added")
    start = serializers.SerializerMethodField()
    words = serializers.CharField()

    def get_start(self, row: Any) -> str:
        return clock(row.start)


class AnswerSerializer(serializers.Serializer[Any]):
    """An answer. ``other_day`` takes days of the list, or a note; ``away`` a day."""

    answer = serializers.ChoiceField(choices=ANSWERS)
    wishes = WishSerializer(many=True, required=False, default=list)
    until = serializers.DateField(required=False, allow_null=True, default=None)
    note = serializers.CharField(
        required=False, allow_blank=True, max_length=300, default=""
    )

    def validate(self, said: dict[str, Any]) -> dict[str, Any]:
        if said["answer"] == "away" and said["until"] is None:
            raise serializers.ValidationError({"until": ["Give the last day away."]})
        return said

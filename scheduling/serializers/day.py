"""What the API takes and gives of the day under way."""

from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone
from rest_framework import serializers

AHEAD = timedelta(minutes=5)
"""So far may a phone's clock be ahead of ours."""
BACK = timedelta(days=2)
"""The round's own day is checked by the service; older moments are none."""


class TapSerializer(serializers.Serializer[Any]):
    """When it was tapped: a phone that was out of reach sends it later."""

    at = serializers.DateTimeField(default=timezone.now, help_text="now unless given")

    def validate_at(self, at: datetime) -> datetime:
        now = timezone.now()
        if at > now + AHEAD:
            raise serializers.ValidationError("This is still to come.")
        if at < now - BACK:
            raise serializers.ValidationError("This is over: say it on the day.")
        return at


class LateSerializer(TapSerializer):
    """So many minutes more; 0: on time again."""

    minutes = serializers.IntegerField(min_value=0, max_value=240)
    was = serializers.IntegerField(
        required=False,
        allow_null=True,
        default=None,
        min_value=0,
        help_text="how late it ran when you looked: if it runs otherwise by now, "
        "nothing changes",
    )


class NewsSerializer(serializers.Serializer[Any]):
    """Someone whom a new time concerns."""

    booking = serializers.UUIDField(source="moved.booking.pk")
    barn_name = serializers.CharField(source="moved.booking.barn.name")
    party = serializers.CharField(source="party.key", help_text="names them when told")
    name = serializers.CharField(source="party.name")
    phone = serializers.CharField(source="party.phone", help_text="empty without one")
    by_mail = serializers.BooleanField(
        source="is_mailed", help_text="otherwise by phone"
    )
    knows = serializers.DateTimeField(source="moved.told")
    starts = serializers.DateTimeField(source="moved.starts")
    is_told = serializers.BooleanField()
    short = serializers.CharField(help_text="the words of a text message")


class TellSerializer(serializers.Serializer[Any]):
    """Whom to mail: those whom these bookings concern."""

    bookings = serializers.ListField(child=serializers.UUIDField(), allow_empty=False)


class ToldSerializer(serializers.Serializer[Any]):
    """Who was told by phone, of which start."""

    booking = serializers.UUIDField()
    party = serializers.CharField(max_length=20)
    starts = serializers.DateTimeField()


class QueuedSerializer(serializers.Serializer[Any]):
    """How many messages go out."""

    queued = serializers.IntegerField()


class NotedSerializer(serializers.Serializer[Any]):
    """Whether it was noted now; False: it was before."""

    noted = serializers.BooleanField()

"""What the API takes and gives of due horses, rounds and bookings."""

from datetime import date
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from horses.models import DueWindow, Horse
from practice.models import Barn, User
from scheduling.models import Booking, Round, Stop
from scheduling.planner.one_day import clock
from scheduling.selectors.due import DueHorse


class DueSerializer(serializers.Serializer[DueHorse]):
    """A horse that is due and has no booking."""

    horse = serializers.IntegerField(source="horse.pk")
    name = serializers.CharField(source="horse.name")
    barn = serializers.IntegerField(source="horse.barn_id", allow_null=True)
    barn_name = serializers.SerializerMethodField(help_text="empty without a barn")
    area = serializers.SerializerMethodField(help_text="empty without an area")
    earliest = serializers.DateField(help_text="from this day on it is worth a visit")
    target = serializers.DateField(help_text="the best day")
    latest = serializers.DateField()
    ready_by = serializers.DateField(
        source="horse.due_window.ready_by",
        allow_null=True,
        help_text="could be ready by then, if it grows fast",
    )
    basis = serializers.ChoiceField(
        source="horse.due_window.basis", choices=DueWindow.Basis.choices
    )
    why = serializers.CharField(
        source="horse.due_window.why", help_text="one sentence: whence the target comes"
    )
    questionable = serializers.IntegerField(
        source="horse.due_window.questionable",
        help_text="readings that look like slips of the keys",
    )
    cost_of_waiting = serializers.FloatField(
        help_text="of another week, in minutes of driving; the list is sorted by it"
    )
    state = serializers.ChoiceField(choices=["late", "overdue", "due", "soon"])
    overdue_days = serializers.IntegerField()
    how = serializers.CharField(help_text="how the due day came about")
    minutes = serializers.IntegerField(
        help_text="planned for its usual work at this horse"
    )

    def get_barn_name(self, row: DueHorse) -> str:
        return row.horse.barn.name if row.horse.barn else ""

    def get_area(self, row: DueHorse) -> str:
        barn = row.horse.barn
        return barn.area.name if barn and barn.area else ""


class BookedHorseSerializer(serializers.Serializer[Any]):
    """A horse of a booking."""

    horse = serializers.IntegerField(source="horse_id")
    name = serializers.CharField(source="horse.name")


class StopSerializer(serializers.ModelSerializer[Stop]):
    """A barn within the round; times by the clock of the practice."""

    booking = serializers.UUIDField(source="booking_id")
    barn = serializers.IntegerField(source="booking.barn_id")
    barn_name = serializers.CharField(source="booking.barn.name")
    status = serializers.ChoiceField(
        source="booking.status", choices=Booking.Status.choices
    )
    visit = serializers.UUIDField(source="booking.visit_id", allow_null=True)
    arrive = serializers.SerializerMethodField()
    start = serializers.SerializerMethodField()
    end = serializers.SerializerMethodField()
    starts_at = serializers.DateTimeField(source="booking.starts_at")
    ends_at = serializers.DateTimeField(source="booking.ends_at")
    horses = BookedHorseSerializer(source="booking.booked", many=True)

    class Meta:
        model = Stop
        fields = [
            "position",
            "booking",
            "barn",
            "barn_name",
            "status",
            "visit",
            "arrive",
            "start",
            "end",
            "starts_at",
            "ends_at",
            "drive_minutes",
            "drive_metres",
            "wait_minutes",
            "horses",
        ]

    def get_arrive(self, row: Stop) -> str:
        return clock(row.arrive)

    def get_start(self, row: Stop) -> str:
        return clock(row.start)

    def get_end(self, row: Stop) -> str:
        return clock(row.end)


class BrokenSerializer(serializers.Serializer[Any]):
    """A rule that the round doesn't keep."""

    kind = serializers.CharField()
    barn = serializers.CharField(allow_null=True)
    sentence = serializers.CharField()


class RoundSerializer(serializers.ModelSerializer[Round]):
    """A farrier's day with its stops in order."""

    farrier_name = serializers.CharField(source="farrier.name", read_only=True)
    leaves = serializers.SerializerMethodField()
    home = serializers.SerializerMethodField()
    pause = serializers.SerializerMethodField(help_text="start of the break")
    warnings = BrokenSerializer(source="broken", many=True, read_only=True)
    stops = StopSerializer(many=True, read_only=True)

    class Meta:
        model = Round
        fields = [
            "id",
            "farrier",
            "farrier_name",
            "day",
            "leaves",
            "home",
            "pause",
            "by_hand",
            "drive_minutes",
            "work_minutes",
            "wait_minutes",
            "warnings",
            "stops",
        ]

    def get_leaves(self, row: Round) -> str:
        return clock(row.leave)

    def get_home(self, row: Round) -> str:
        return clock(row.home_at)

    @extend_schema_field(serializers.CharField(allow_null=True))
    def get_pause(self, row: Round) -> str | None:
        return None if row.break_start is None else clock(row.break_start)


class TypedMinutesSerializer(serializers.Serializer[Any]):
    """The drive to a barn whose place nobody knows."""

    barn = serializers.PrimaryKeyRelatedField(queryset=Barn.objects.active())
    minutes = serializers.IntegerField(min_value=0, max_value=600)


class NewRoundSerializer(serializers.Serializer[Any]):
    """A farrier, a day and horses; their barns follow from them."""

    farrier = serializers.PrimaryKeyRelatedField(queryset=User.objects.farriers())
    day = serializers.DateField()
    horses = serializers.PrimaryKeyRelatedField(
        queryset=Horse.objects.active()
        .select_related("barn", "usual_work")
        .prefetch_related("barn__access_hours"),
        many=True,
        allow_empty=False,
    )
    status = serializers.ChoiceField(
        choices=[(one.value, one.label) for one in Booking.OPEN],
        default=Booking.Status.AGREED,
    )
    note = serializers.CharField(required=False, max_length=300, default="")
    typed_minutes = TypedMinutesSerializer(many=True, required=False, default=list)


class CallOffSerializer(serializers.Serializer[Any]):
    """How and why a booking is called off."""

    kind = serializers.ChoiceField(
        choices=[("", "in good time"), ("late_call_off", "late"), ("no_show", "none")],
        default="",
    )
    reason = serializers.CharField(required=False, max_length=300, default="")


class AttendedSerializer(serializers.Serializer[Any]):
    """The visit that was opened."""

    visit = serializers.UUIDField()


class DueFilterSerializer(serializers.Serializer[Any]):
    """What the list of due horses may be narrowed by."""

    until = serializers.DateField(required=False)
    area = serializers.IntegerField(required=False)
    barn = serializers.IntegerField(required=False)
    farrier = serializers.IntegerField(required=False)


class RoundFilterSerializer(serializers.Serializer[Any]):
    """Which rounds to list."""

    since = serializers.DateField(required=False)
    until = serializers.DateField(required=False)
    farrier = serializers.IntegerField(required=False)


def days(said: dict[str, Any]) -> dict[str, date]:
    """The lookups of a round's day that were asked for."""
    names = {"since": "day__gte", "until": "day__lte"}
    return {look: said[name] for name, look in names.items() if name in said}

"""What the API takes and gives of due horses, rounds and bookings."""

from datetime import date
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from horses.models import DueWindow, Horse
from practice.models import Barn, User
from scheduling.models import Booking, Proposal, Round, Stop
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


class NewProposalSerializer(serializers.Serializer[Any]):
    """Which weeks to propose, whose, what may move, how long to search."""

    starts = serializers.DateField()
    weeks = serializers.IntegerField(min_value=1, max_value=8, default=4)
    farriers = serializers.PrimaryKeyRelatedField(
        queryset=User.objects.farriers(), many=True, allow_empty=False
    )
    may_move = serializers.ChoiceField(
        choices=Proposal.Moves.choices, default=Proposal.Moves.PENCILLED
    )
    together = serializers.IntegerField(
        min_value=1,
        max_value=3,
        default=None,
        allow_null=True,
        help_text="keeps areas together: 1 to 3; as the practice has set it if left out",
    )
    seconds = serializers.IntegerField(min_value=1, max_value=120, default=10)
    seed = serializers.IntegerField(min_value=0, max_value=2**31 - 1, default=1)


class ProposedStopSerializer(serializers.Serializer[Any]):
    """A stop of a proposed round; times by the clock of the practice."""

    visit = serializers.CharField(source="id", help_text="names it when accepting")
    barn_name = serializers.CharField(source="name")
    horses = serializers.ListField(child=serializers.CharField())
    start = serializers.SerializerMethodField()
    end = serializers.SerializerMethodField()
    drive_minutes = serializers.FloatField(source="timed.drive_minutes")
    change = serializers.ChoiceField(
        source="kind", choices=["new", "moved", "kept", "agreed"]
    )
    off_days = serializers.IntegerField(
        source="off", help_text="days after its target; before it below 0"
    )
    booking = serializers.CharField(allow_null=True)

    def get_start(self, row: Any) -> str:
        return clock(row.timed.start)

    def get_end(self, row: Any) -> str:
        return clock(row.timed.end)


class ProposedRoundSerializer(serializers.Serializer[Any]):
    """One farrier's proposed day."""

    day = serializers.DateField()
    farrier = serializers.IntegerField()
    drive_minutes = serializers.FloatField(source="timed.drive_minutes")
    work_minutes = serializers.IntegerField(source="timed.work_minutes")
    home = serializers.SerializerMethodField()
    stops = ProposedStopSerializer(many=True)

    def get_home(self, row: Any) -> str:
        return clock(row.timed.home_at)


class LeftOverSerializer(serializers.Serializer[Any]):
    """A visit in no round: why, and the least change that would fit it."""

    visit = serializers.CharField(source="id")
    barn_name = serializers.CharField(source="name")
    horses = serializers.ListField(child=serializers.CharField())
    target = serializers.DateField()
    code = serializers.CharField()
    sentence = serializers.CharField()
    mend = serializers.CharField()


class ProposalSerializer(serializers.ModelSerializer[Proposal]):
    """Weeks being proposed: how far the search is, and its best figures."""

    class Meta:
        model = Proposal
        fields = [
            "id",
            "starts",
            "weeks",
            "until",
            "farriers",
            "may_move",
            "together",
            "seconds",
            "seed",
            "state",
            "progress",
            "sentence",
            "best",
        ]
        read_only_fields = fields


class ProposedWeeksSerializer(serializers.Serializer[Any]):
    """A proposal with its rounds, once it is ready; they are empty before."""

    proposal = ProposalSerializer()
    rounds = ProposedRoundSerializer(many=True)
    left_over = LeftOverSerializer(many=True)
    can_wait = LeftOverSerializer(many=True)
    drive_saved_minutes = serializers.IntegerField(allow_null=True)
    weights = serializers.DictField(
        child=serializers.FloatField(),
        allow_null=True,
        help_text="what it was weighed with, in minutes of driving",
    )


class AcceptSerializer(serializers.Serializer[Any]):
    """Which stops to accept; all unless named."""

    visits = serializers.ListField(
        child=serializers.CharField(max_length=60), required=False, allow_empty=False
    )


class AcceptedSerializer(serializers.Serializer[Any]):
    """What the acceptance came to."""

    stops = serializers.IntegerField()
    days = serializers.IntegerField()

"""What the API takes and gives of proposed weeks."""

from typing import Any

from rest_framework import serializers

from practice.models import User
from scheduling.models import Proposal, ProposalStep
from scheduling.planner.one_day import clock


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


class StepSerializer(serializers.Serializer[Any]):
    """The last thing that was done and can be taken back."""

    id = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=ProposalStep.Kind.choices)
    said = serializers.CharField()


class ProposedWeeksSerializer(serializers.Serializer[Any]):
    """A proposal with its rounds, once it is ready; they are empty before."""

    proposal = ProposalSerializer()
    rounds = ProposedRoundSerializer(many=True)
    left_over = LeftOverSerializer(many=True)
    can_wait = LeftOverSerializer(many=True)
    drive_saved_minutes = serializers.IntegerField(allow_null=True)
    step = StepSerializer(allow_null=True, help_text="what can be taken back")
    weights = serializers.DictField(
        child=serializers.FloatField(),
        allow_null=True,
        help_text="what it was weighed with, in minutes of driving",
    )


class ShiftSerializer(serializers.Serializer[Any]):
    """One farrier's day."""

    day = serializers.DateField()
    farrier = serializers.IntegerField()


class AcceptSerializer(serializers.Serializer[Any]):
    """Which stops to accept; all unless stops or days are named."""

    visits = serializers.ListField(
        child=serializers.CharField(max_length=60), required=False, allow_empty=False
    )
    days = ShiftSerializer(many=True, required=False, allow_empty=False)


class MoveSerializer(serializers.Serializer[Any]):
    """Where a stop goes: a farrier's day, or left over without one."""

    visit = serializers.CharField(max_length=60)
    day = serializers.DateField(required=False, allow_null=True, default=None)
    farrier = serializers.IntegerField(required=False, allow_null=True, default=None)
    position = serializers.IntegerField(
        required=False,
        allow_null=True,
        default=None,
        min_value=0,
        help_text="from 0, without the stop itself; where it fits best unless given",
    )

    def validate(self, said: dict[str, Any]) -> dict[str, Any]:
        if (said["day"] is None) != (said["farrier"] is None):
            raise serializers.ValidationError(
                {"farrier": ["Give day and farrier, or neither to leave it over."]}
            )
        return said


class ChoiceSerializer(serializers.Serializer[Any]):
    """A day that could take a stop, or why it can't."""

    day = serializers.DateField()
    farrier = serializers.IntegerField()
    drive_minutes = serializers.IntegerField(source="drive", help_text="added")
    off_days = serializers.IntegerField(source="off")
    cost = serializers.IntegerField(help_text="against where it stands, in minutes")
    refusal = serializers.CharField(help_text="empty where it fits")
    is_here = serializers.BooleanField()


class UndoSerializer(serializers.Serializer[Any]):
    """What to take back: the ``step`` of the proposal."""

    step = serializers.IntegerField()


class AcceptedSerializer(serializers.Serializer[Any]):
    """What the acceptance came to."""

    stops = serializers.IntegerField()
    days = serializers.IntegerField()

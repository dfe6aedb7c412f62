"""Proposed weeks: what was asked of the planner, on which world, and what it found."""

from datetime import date, timedelta

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import Q

from practice.keys import uuid7
from practice.models import Timed, User

MOST_WEEKS = 8


class ProposalQuerySet(models.QuerySet["Proposal"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "ProposalQuerySet":
        """Proposals are the practice's own business."""
        if isinstance(viewer, User) and viewer.is_active and viewer.is_of_practice:
            return self
        return self.none()

    def unfinished(self) -> "ProposalQuerySet":
        """Waiting for the worker, or with it."""
        return self.filter(state__in=Proposal.UNFINISHED)

    def light(self) -> "ProposalQuerySet":
        """Without the world and the travel times, which weigh hundreds of kilobytes."""
        return self.defer("world", "travel", "found")


class Proposal(Timed):
    """Weeks as the planner would drive them. Nothing of it is booked until accepted.

    ``world`` is what it was reckoned on (jobs, days, weights), ``travel`` the minutes
    and metres between its places, ``base`` a digest of what stood on each day then:
    a day that has changed since is not accepted. ``plan`` is the plan as it stands with
    the moves made by hand, ``found`` as the planner left it, ``best`` what the page
    shows while the search runs.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        RUNNING = "running", "being reckoned"
        READY = "ready", "ready"
        FAILED = "failed", "stopped"

    class Moves(models.TextChoices):
        NOTHING = "nothing", "nothing that is booked"
        PENCILLED = "pencilled", "what is pencilled"
        ASKED = "asked", "what is pencilled or asked"

    UNFINISHED = (State.WAITING, State.RUNNING)

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    starts = models.DateField()
    weeks = models.PositiveSmallIntegerField(default=4)
    farriers = models.ManyToManyField(User, related_name="+")
    may_move = models.CharField(
        max_length=9, choices=Moves.choices, default=Moves.PENCILLED
    )
    together = models.PositiveSmallIntegerField(
        default=2,
        help_text="how much driving weighs in the search: keeps areas together",
    )
    seconds = models.PositiveSmallIntegerField(default=10)
    seed = models.PositiveIntegerField(default=1)
    state = models.CharField(max_length=7, choices=State.choices, default=State.WAITING)
    stop_asked = models.BooleanField(default=False)
    progress = models.PositiveSmallIntegerField(default=0, help_text="percent")
    tries = models.PositiveSmallIntegerField(default=0)
    sentence = models.CharField(max_length=300, blank=True, help_text="why it failed")
    beat_at = models.DateTimeField(
        null=True, blank=True, help_text="the worker's last sign of life"
    )
    finished_at = models.DateTimeField(null=True, blank=True)
    best = models.JSONField(null=True, blank=True)
    world = models.JSONField(null=True, blank=True)
    travel = models.BinaryField(null=True, blank=True)
    base = models.JSONField(default=dict, blank=True)
    found = models.JSONField(null=True, blank=True)
    plan = models.JSONField(null=True, blank=True)
    accepted = models.JSONField(
        default=dict, blank=True, help_text="job → the booking that it became"
    )
    made_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    objects = ProposalQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["waiting", "running", "ready", "failed"]),
                name="proposal_state_known",
            ),
            models.CheckConstraint(
                condition=Q(weeks__range=(1, MOST_WEEKS)), name="proposal_to_8_weeks"
            ),
            models.CheckConstraint(
                condition=Q(may_move__in=["nothing", "pencilled", "asked"]),
                name="proposal_moves_known",
            ),
            models.CheckConstraint(
                condition=Q(progress__lte=100), name="proposal_progress_percent"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.weeks} weeks from {self.starts}"

    @property
    def until(self) -> date:
        """The last day of the horizon."""
        return self.starts + timedelta(days=7 * self.weeks - 1)

    @property
    def is_unfinished(self) -> bool:
        return self.state in self.UNFINISHED


class ProposalStep(Timed):
    """One change to a proposal that can be taken back: a move by hand, an acceptance."""

    class Kind(models.TextChoices):
        MOVED = "moved", "moved"
        ACCEPTED = "accepted", "accepted"

    proposal = models.ForeignKey(
        Proposal, on_delete=models.CASCADE, related_name="steps"
    )
    kind = models.CharField(max_length=8, choices=Kind.choices)
    said = models.CharField(max_length=200)
    before = models.JSONField(help_text="the plan as it was")
    made = models.JSONField(default=list, help_text="bookings made, filled or moved")
    undone_at = models.DateTimeField(null=True, blank=True)
    made_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["moved", "accepted"]),
                name="proposal_step_kind_known",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {self.said}"

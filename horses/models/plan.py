"""Foot plans: what is proposed for a foot, and what it was reckoned to come to."""

from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db import models
from django.db.models import Q

from horses.models.horse import Horse
from horses.models.visit import Foot, VisitRecord
from practice.keys import uuid7
from practice.models import Timed, User


class FootPlanQuerySet(models.QuerySet["FootPlan"]):
    def visible_to(self, viewer: User | AnonymousUser) -> "FootPlanQuerySet":
        """Staff see every plan. An owner reads an accepted one in the visit's report,
        never the plan's own page.
        """
        if isinstance(viewer, User) and viewer.is_active and viewer.is_of_practice:
            return self
        return self.none()

    def settled(self) -> "FootPlanQuerySet":
        """Plans that were accepted, also those another has since taken the place of."""
        return self.exclude(state=FootPlan.State.DRAFT)


class FootPlan(Timed):
    """One plan of one foot. ``document`` is what ``reckon shoe`` takes, ``result`` what
    it gave under the ``rules`` named, so that an old plan still reads as it stood.
    """

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        ACCEPTED = "accepted", "accepted"
        SUPERSEDED = "superseded", "superseded"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="plans")
    foot = models.CharField(max_length=2, choices=Foot.choices)
    day = models.DateField()
    by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    record = models.ForeignKey(
        VisitRecord,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="plans",
        help_text="the visit's record it was made at, whose report prints it",
    )
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    document = models.JSONField(default=dict)
    result = models.JSONField(default=dict)
    rules = models.CharField(max_length=20)
    clips = models.CharField(max_length=40, blank=True)
    pad = models.CharField(max_length=40, blank=True)
    traction = models.CharField(max_length=80, blank=True)
    note = models.TextField(blank=True)
    vet_name = models.CharField(max_length=120, blank=True)
    vet_day = models.DateField(null=True, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    objects = FootPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-day", "-pk"]
        indexes = [models.Index(fields=["horse", "foot", "day"], name="plan_of_foot")]
        constraints = [
            models.CheckConstraint(
                condition=Q(foot__in=["LF", "RF", "LH", "RH"]), name="plan_of_four_feet"
            ),
            models.CheckConstraint(
                condition=Q(state="draft", accepted_at__isnull=True)
                | Q(state__in=["accepted", "superseded"], accepted_at__isnull=False),
                name="plan_accepted_has_time",
            ),
            models.CheckConstraint(
                condition=Q(vet_name="", vet_day__isnull=True)
                | (~Q(vet_name="") & Q(vet_day__isnull=False)),
                name="plan_vet_has_name_and_day",
            ),
            models.UniqueConstraint(
                fields=["horse", "foot"],
                condition=Q(state="accepted"),
                name="one_accepted_plan_a_foot",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.foot} of {self.horse_id}, {self.day}"

    @property
    def is_draft(self) -> bool:
        return self.state == self.State.DRAFT

    @property
    def flags(self) -> list[dict[str, Any]]:
        """The rules that it runs into, as reckoned when it was saved."""
        found: list[dict[str, Any]] = self.result.get("flags", [])
        return found

    @property
    def fittings(self) -> list[tuple[str, str]]:
        """What else is put on the shoe, in words: not weighed."""
        said = (("clips", self.clips), ("pad", self.pad), ("traction", self.traction))
        return [(name, word) for name, word in said if word]

    @property
    def has_vet_word(self) -> bool:
        return bool(self.vet_name)

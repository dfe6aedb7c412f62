"""What planning weighs in this practice."""

from django.db import models
from django.db.models import Q

from practice.models import Timed, User


class PlanningWeights(Timed):
    """The weights that the practice has changed: one row, made when it first does.

    ``own``: by the planner's names; what is not in it is as usual, also where a later
    version finds better figures.
    """

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    own = models.JSONField(default=dict, blank=True)
    set_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="one_planning_weights")
        ]

    def __str__(self) -> str:
        return "planning weights"

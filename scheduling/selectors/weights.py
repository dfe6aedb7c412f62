"""What planning weighs in this practice."""

from scheduling.models import PlanningWeights
from scheduling.planner.weeks import Weights
from scheduling.planner.weighing import weights_of


def weights_in_use() -> Weights:
    """The practice's weights. One query."""
    row = PlanningWeights.objects.filter(pk=1).first()
    return weights_of(row.own if row else {})

"""What planning weighs: changed by whoever runs the practice, or as usual again."""

from collections.abc import Mapping

from django.db import transaction

from practice.errors import Refused
from practice.models import User
from practice.services.changes import note_change
from scheduling.models import PlanningWeights
from scheduling.planner.weighing import BadWeight, checked


@transaction.atomic
def set_weights(*, said: Mapping[str, float], by: User) -> None:
    """Sets the practice's weights by their names; those left out are as usual again.
    Proposals that were made keep what they were made with. Again: the same.

    Raises:
        Refused: a weight is out of its bounds.
    """
    try:
        own = checked(said)
    except BadWeight as wrong:
        raise Refused(wrong.sentence, field=wrong.name) from wrong
    row, _ = PlanningWeights.objects.select_for_update().get_or_create(pk=1)
    if row.own == own:
        return
    before = row.own
    row.own, row.set_by = own, by
    row.save(update_fields=["own", "set_by", "changed_at"])
    note_change(by=by, obj=row, action="weights set", before=before, after=own)

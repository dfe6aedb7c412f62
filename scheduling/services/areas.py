"""Areas taken up from a proposal: named, their barns put in."""

from collections.abc import Mapping, Sequence

from django.db import transaction

from practice.errors import Refused
from practice.models import Barn, User
from practice.services.barns import change_barn, name_area


@transaction.atomic
def take_areas(*, named: Mapping[str, Sequence[Barn]], by: User) -> int:
    """Puts barns into the areas of these names, which are made where there are none;
    all other barns stay where they are. Again: the same.

    Returns:
        how many barns changed their area.

    Raises:
        Refused: nothing named.
    """
    if not named:
        raise Refused("Name at least one area.")
    changed = 0
    for name, barns in named.items():
        area = name_area(name=name, by=by)
        for barn in barns:
            if barn.area_id != area.pk:
                change_barn(barn=barn, by=by, area=area)
                changed += 1
    return changed

"""The visits of a horse as its pages show them: the last few, or all."""

from typing import Any

from django.http import HttpRequest

from horses.models import Horse
from horses.selectors.records import timeline
from practice import access
from practice.models import Practice

FEW = 3
ALL = 400


def story(request: HttpRequest, horse: Horse) -> dict[str, Any]:
    """What ``_timeline.html`` and ``_earlier.html`` show of a horse to this viewer.
    ``?visits=all`` asks for the whole history."""
    limit = ALL if request.GET.get("visits") == "all" else FEW
    told = timeline(
        horse=horse,
        viewer=access.member(request),
        practice=Practice.objects.the_one(),
        limit=limit + 1,
    )
    return {"timeline": told[:limit], "has_earlier": len(told) > limit}

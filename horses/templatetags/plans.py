"""How foot plans are shown: drawings, and what a plan comes to at each place."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import template
from django.utils.safestring import SafeString

from horses.drawing.plan import SCALE, PlanPicture, plan_view, shade
from horses.shoe.plan import PLACE_NAMES, PLACES
from practice.models import Practice
from practice.units import format_inches

register = template.Library()

_MM = re.compile(r"(\d+(?:\.\d+)?) mm")
ALL_PERCENT = 99.5
"""What reads as 100 % when it is rounded."""


@dataclass(frozen=True, slots=True)
class PlaceTold:
    """What a plan comes to at one place."""

    name: str
    percent: float
    word: str
    shade: int
    overhang_mm: float
    edge_mm: float

    @property
    def edge_words(self) -> str:
        """``2.0 mm out``, ``1.5 mm in``: without a sign to misread."""
        return f"{abs(self.edge_mm):.1f} mm {'out' if self.edge_mm > 0 else 'in'}"


def _shade(percent: float) -> int:
    return next(i for i, (least, _, _) in enumerate(SCALE) if percent >= least)


@register.filter
def drawn(picture: PlanPicture | None) -> SafeString:
    """The plan as it is drawn; the drawing escapes what it is told."""
    return SafeString(plan_view(picture) if picture else "")


@register.filter
def drawn_small(picture: PlanPicture | None) -> SafeString:
    """The same without words, for rows of many."""
    return SafeString(plan_view(picture, small=True) if picture else "")


@register.filter
def places_told(answer: Mapping[str, Any]) -> list[PlaceTold]:
    """The seven places with wall on steel, overhang and the edge's distance."""
    return [
        PlaceTold(
            name=PLACE_NAMES[place],
            percent=answer["wall_on_steel_percent"][place],
            word=shade(answer["wall_on_steel_percent"][place])[1],
            shade=_shade(answer["wall_on_steel_percent"][place]),
            overhang_mm=answer["overhang_mm"][place],
            edge_mm=answer["edge_from_sound_line_mm"][place],
        )
        for place in PLACES
    ]


@register.filter
def place_words(place: str) -> str:
    """A place of a flag in words."""
    return PLACE_NAMES.get(place, place)


@register.filter
def in_own_unit(sentence: str, practice: Practice) -> str:
    """A rule's sentence as a practice that measures in inches reads it: 3/16 in
    (4.8 mm). The millimetres stay, since an inch's parts are too coarse for a rule."""
    if practice.length_unit != Practice.LengthUnit.INCH:
        return sentence
    return _MM.sub(
        lambda found: f"{format_inches(float(found[1]))} ({found[0]})", sentence
    )


@register.filter
def counted(flags: list[dict[str, Any]]) -> str:
    """``1 refused, 2 flagged``; nothing where there is none."""
    states = [flag["state"] for flag in flags]
    counts = [(states.count(state), state) for state in ("refused", "flagged")]
    return ", ".join(f"{count} {state}" for count, state in counts if count)


@register.filter
def steel_words(answer: Mapping[str, Any]) -> str:
    """``all of the wall on steel but toe 50 %``: the places that are not, by name."""
    partly = [
        f"{told.name} {told.percent:.0f} %"
        for told in places_told(answer)
        if told.percent < ALL_PERCENT
    ]
    but = f" but {', '.join(partly)}" if partly else ""
    return f"all of the wall on steel{but}"

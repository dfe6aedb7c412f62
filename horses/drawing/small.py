"""Four feet as small marks, for a line of an invoice: what was done to each. Pure.

Fore above hind, left beside right, toes up, as the other drawings have them.
"""

from collections.abc import Mapping

from horses.drawing import pen

KINDS = ("new_shoe", "reset", "pull", "trim", "none")
"""What may have been done to a foot, as ``FootRecord.work`` has it."""

_PLACES = {"LF": (0, 0), "RF": (1, 0), "LH": (0, 1), "RH": (1, 1)}
_WIDE, _HIGH = 24.0, 27.0
_HOOF = "M5 24C1 17 2 8 7 4.5C10 2.4 14 2.4 17 4.5C22 8 23 17 19 24Z"
_SHOE = "M5.6 22.6C2.8 16.5 3.6 9 8 6C10.4 4.4 13.6 4.4 16 6C20.4 9 21.2 16.5 18.4 22.6"


def _foot(kind: str) -> str:
    thin: dict[str, str | float] = {"fill": "none", "stroke": pen.STEEL_EDGE}
    if kind == "none":
        return pen.path(_HOOF, fill="none", stroke=pen.STEEL_LIGHT, stroke_width=0.8)
    horn = pen.path(_HOOF, fill=pen.WHITE_LINE, stroke=pen.HORN_EDGE, stroke_width=0.9)
    if kind == "new_shoe":
        return horn + pen.path(_SHOE, **thin, stroke_width=3.8)
    if kind == "reset":
        return (
            horn
            + pen.path(_SHOE, **thin, stroke_width=3.8)
            + pen.path(_SHOE, fill="none", stroke="#ffffff", stroke_width=1.9)
        )
    if kind == "pull":
        return horn + pen.path("M7.5 9L16.5 19M16.5 9L7.5 19", **thin, stroke_width=1.4)
    return horn


def small_feet(work: Mapping[str, str]) -> str:
    """Inline SVG of the feet in ``work`` (LF, RF, LH, RH → one of ``KINDS``).

    A single foot under the key "" makes the mark alone, for a key to the drawing.
    A foot that isn't named leaves its place; a kind that isn't known is left out.
    """
    if set(work) == {""}:
        size, marks = (_WIDE, _HIGH), [(0.0, 0.0, work[""])]
    else:
        size = (2 * _WIDE, 2 * _HIGH)
        marks = [
            (x * _WIDE, y * _HIGH, work[foot])
            for foot, (x, y) in _PLACES.items()
            if work.get(foot) in KINDS
        ]
    drawn = "".join(
        f'<g transform="translate({pen.n(x)} {pen.n(y)})">{_foot(kind)}</g>'
        for x, y, kind in marks
    )
    look = "feet" if len(marks) > 1 or "" not in work else "foot"
    return (
        f'<svg class="{look}" xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="0 0 {pen.n(size[0])} {pen.n(size[1])}">{drawn}</svg>'
    )

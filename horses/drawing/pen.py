"""The pen: colours, smooth lines and SVG elements, as text. Pure."""

from collections.abc import Callable, Sequence
from html import escape
from math import hypot

Point = tuple[float, float]

HORN, HORN_EDGE = "#8f7152", "#4d3a29"
WHITE_LINE, SOLE, SOLE_EDGE = "#f3e7c6", "#dac9a8", "#b59f7b"
FROG, FROG_EDGE, GROOVE = "#84726a", "#5a4b45", "#433733"
BULB, BAR_HORN, PAD = "#a08b7d", "#b3966f", "#8fa3ad"
STEEL, STEEL_EDGE, STEEL_LIGHT, STEEL_DARK = "#66707a", "#2b3238", "#98a3ab", "#3c454c"
ALLOY, ALLOY_EDGE = "#a9b3ba", "#59636b"
NAIL, MARK = "#14181b", "#b3340a"

MIDDLE, TOE_Y, LENGTH = 110.0, 22.0, 172.0
WIDE, HIGH = 220, 262
"""The drawing's own units; 160 px of width show a word of 17 units at over 10 px."""


def n(value: float) -> str:
    """A number to a tenth, short."""
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def at(point: Point) -> str:
    """A point as two numbers."""
    return f"{n(point[0])} {n(point[1])}"


def smooth(points: Sequence[Point]) -> str:
    """A smooth line through the points: Catmull-Rom written as cubic Béziers."""
    path = [f"M{at(points[0])}"]
    for i in range(len(points) - 1):
        before, here = points[max(i - 1, 0)], points[i]
        there, after = points[i + 1], points[min(i + 2, len(points) - 1)]
        one = (
            here[0] + (there[0] - before[0]) / 6,
            here[1] + (there[1] - before[1]) / 6,
        )
        two = (there[0] - (after[0] - here[0]) / 6, there[1] - (after[1] - here[1]) / 6)
        path.append(f"C{at(one)} {at(two)} {at(there)}")
    return "".join(path)


def joined(points: Sequence[Point]) -> str:
    """The same line without its first move, to go on with another."""
    return "L" + smooth(points)[1:]


def offset(points: Sequence[Point], inward: Callable[[int], float]) -> list[Point]:
    """The line shifted toward the middle of the foot by ``inward(i)`` units."""
    moved = []
    for i, (x, y) in enumerate(points):
        ax, ay = points[max(i - 1, 0)]
        bx, by = points[min(i + 1, len(points) - 1)]
        size = hypot(bx - ax, by - ay) or 1.0
        nx, ny = -(by - ay) / size, (bx - ax) / size
        moved.append((x + nx * inward(i), y + ny * inward(i)))
    return moved


def path(d: str, **attributes: str | float) -> str:
    """A path element."""
    return tag("path", d=d, **attributes)


def tag(name: str, text: str = "", /, **attributes: str | float) -> str:
    """An element; ``_`` in attribute names is read as ``-``, text is escaped."""
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="'
        f'{n(value) if isinstance(value, float) else escape(str(value))}"'
        for key, value in attributes.items()
    )
    return f"<{name}{said}>{escape(text)}</{name}>" if text else f"<{name}{said}/>"


def word(text: str, x: float, y: float, **more: str | float) -> str:
    """Text in the page's own colour."""
    look: dict[str, str | float] = {
        "font_family": "sans-serif",
        "font_size": "17",
        "fill": "currentColor",
    }
    return tag("text", text, x=x, y=y, **(look | more))

"""The planner's weights as a practice sets them: plain words, bounds, what each usually
is, and an example of what it means. Pure.

The formula is that of `costs`; the figures are ours, no source.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from scheduling.planner.costs import late_cost
from scheduling.planner.weeks import Weights

USUAL: Final = Weights(other_farrier=20.0, other_area=20.0, keep_together=2.0)
"""A practice's weights before it has changed any: those of the planner, with wishes
priced and areas kept together."""
WINDOW_DAYS: Final = 10
"""In examples a window closes so many days after the best day."""


class BadWeight(ValueError):
    """A weight out of its bounds. Args: the weight's name, what is wrong."""

    def __init__(self, name: str, sentence: str) -> None:
        self.name = name
        self.sentence = sentence
        super().__init__(sentence)


@dataclass(frozen=True, slots=True)
class Weighed:
    """One weight for people. name: that of `Weights`. unit: of its figure. low, high:
    what it may be."""

    name: str
    label: str
    unit: str
    low: float
    high: float
    words: str
    example: Callable[[Weights], str]

    @property
    def usual(self) -> float:
        """What it is unless the practice says otherwise."""
        return float(getattr(USUAL, self.name))


@dataclass(frozen=True, slots=True)
class Told:
    """A weight with its value and what that means. is_usual: it was not changed."""

    what: Weighed
    value: float
    example: str

    @property
    def is_usual(self) -> bool:
        return self.value == self.what.usual


def minutes_at_the_wheel(cost: float, weights: Weights) -> str:
    """A cost as driving, in words: '38 minutes', '2 h 05'."""
    minutes = cost / weights.drive
    if minutes < 9.95 and round(minutes, 1) % 1:
        return f"{minutes:.1f} minutes"
    whole = round(minutes)
    if whole >= 120:
        return f"{whole // 60} h {whole % 60:02d}"
    return "1 minute" if whole == 1 else f"{whole} minutes"


def _as_driving(cost: float, weights: Weights) -> str:
    return f"weighs as much as {minutes_at_the_wheel(cost, weights)} at the wheel"


def _drive(weights: Weights) -> str:
    hour, days = 60 * weights.drive, 0
    while late_cost(days + 1, WINDOW_DAYS, weights) <= hour:
        days += 1
    said = "1 day" if days == 1 else f"{days} days"
    return (
        f"An hour at the wheel weighs as much as one horse done about {said} late, in a "
        f"window that closes {WINDOW_DAYS} days after its best day."
    )


def _day(weights: Weights) -> str:
    saved = minutes_at_the_wheel(weights.day, weights)
    return f"To save a whole round, up to {saved} more are driven on other days."


def _early(weights: Weights) -> str:
    said = _as_driving(5 * weights.early, weights)
    return f"A horse done 5 days early {said}."


def _late(weights: Weights) -> str:
    five = _as_driving(late_cost(5, WINDOW_DAYS, weights), weights)
    ten = minutes_at_the_wheel(late_cost(10, WINDOW_DAYS, weights), weights)
    return (
        f"A horse done 5 days late {five}; done 10 days late, on the last day of its "
        f"window, as much as {ten}."
    )


def _left_over(weights: Weights) -> str:
    cost = weights.left_over + weights.left_over_each
    return f"A barn with one horse that has to be seen, left over, {_as_driving(cost, weights)}."


def _left_over_each(weights: Weights) -> str:
    cost = weights.left_over + 5 * weights.left_over_each
    return f"A barn with five horses, left over, {_as_driving(cost, weights)}."


def _left_over_late(weights: Weights) -> str:
    cost = 5 * weights.left_over_late * late_cost(28, 28, weights)
    return (
        "Five horses whose window closes four weeks after their best day, left over, "
        f"weigh at least as much as {minutes_at_the_wheel(cost, weights)} at the wheel."
    )


def _beyond(weights: Weights) -> str:
    least = minutes_at_the_wheel(weights.beyond, weights)
    return (
        "A barn whose best day is the day after these weeks waits, unless it adds less "
        f"than {least} of driving and early days together."
    )


def _moved(what: str, name: str) -> Callable[[Weights], str]:
    def example(weights: Weights) -> str:
        saved = minutes_at_the_wheel(getattr(weights, name), weights)
        return f"{what} only where that saves more than {saved} at the wheel."

    return example


def _together(weights: Weights) -> str:
    times = f"{weights.keep_together:g}"
    return (
        f"The search counts each minute at the wheel {times} times; what a plan weighs "
        "is reckoned without it."
    )


_MINUTES = "min of driving"
WEIGHED: Final = (
    Weighed(
        "drive",
        "A minute at the wheel",
        "",
        0.25,
        4.0,
        "What all others are measured against: above 1, driving is dearer than all "
        "else; below 1, cheaper.",
        _drive,
    ),
    Weighed(
        "day",
        "A round driven at all",
        _MINUTES,
        0.0,
        240.0,
        "More: fewer and fuller rounds. Less: rounds are opened more easily.",
        _day,
    ),
    Weighed(
        "early",
        "A horse a day before its best day",
        f"{_MINUTES} a day",
        0.0,
        10.0,
        "More: horses are brought forward less readily to fill a round.",
        _early,
    ),
    Weighed(
        "late",
        "A horse a day after its best day",
        f"{_MINUTES} a day",
        0.1,
        20.0,
        "It grows the later it gets, the faster the narrower the window. The due list "
        "is sorted by it too.",
        _late,
    ),
    Weighed(
        "left_over",
        "A barn left over",
        _MINUTES,
        60.0,
        2000.0,
        "A barn that has to be seen in these weeks and gets no day. More: longer "
        "detours for the last barn.",
        _left_over,
    ),
    Weighed(
        "left_over_each",
        "Each horse of a barn left over",
        _MINUTES,
        0.0,
        500.0,
        "Added to the barn’s own figure for each of its horses.",
        _left_over_each,
    ),
    Weighed(
        "left_over_late",
        "A barn left over: times its latest day",
        "",
        1.0,
        5.0,
        "Leaving a barn over weighs at least so many times what its latest day would. "
        "Never below 1, or leaving over would pay.",
        _left_over_late,
    ),
    Weighed(
        "beyond",
        "A barn that can wait until after these weeks",
        _MINUTES,
        0.0,
        500.0,
        "More: barns are taken along sooner. Less: they wait.",
        _beyond,
    ),
    Weighed(
        "pencilled",
        "A pencilled booking put on another day or farrier",
        _MINUTES,
        0.0,
        500.0,
        "More: what stands in pencil stays.",
        _moved("A pencilled booking is moved", "pencilled"),
    ),
    Weighed(
        "asked",
        "An asked booking put on another day or farrier",
        _MINUTES,
        0.0,
        1000.0,
        "People have been asked about its day, and would be asked anew.",
        _moved("An asked booking is moved", "asked"),
    ),
    Weighed(
        "other_farrier",
        "Another farrier than the preferred one",
        _MINUTES,
        0.0,
        500.0,
        "A wish, not a rule: who alone may treat a horse is kept always.",
        _moved("Another farrier is sent", "other_farrier"),
    ),
    Weighed(
        "other_area",
        "A barn on a day meant for another area",
        _MINUTES,
        0.0,
        500.0,
        "More: days keep to their area.",
        _moved("A barn is attended on another area’s day", "other_area"),
    ),
    Weighed(
        "keep_together",
        "Keep areas together",
        "",
        1.0,
        3.0,
        "What Propose weeks begins with; each proposal may choose anew.",
        _together,
    ),
)


def told(weights: Weights) -> tuple[Told, ...]:
    """Each weight with its value and what that means, in the order of the page."""
    return tuple(
        Told(one, float(getattr(weights, one.name)), one.example(weights))
        for one in WEIGHED
    )


def weights_of(own: Mapping[str, object]) -> Weights:
    """The usual weights with a practice's own; names and values that are none are
    left out, so that a row of another version never stops a plan."""
    known = {one.name: one for one in WEIGHED}
    kept: dict[str, float] = {}
    for name, value in own.items():
        if name in known and isinstance(value, int | float):
            kept[name] = min(max(float(value), known[name].low), known[name].high)
    return replace(USUAL, **kept)


def checked(said: Mapping[str, float]) -> dict[str, float]:
    """What differs from the usual weights, each within its bounds.

    Raises:
        BadWeight: one is out of them.
    """
    for one in WEIGHED:
        value = said.get(one.name, one.usual)
        if not one.low <= value <= one.high:
            raise BadWeight(one.name, f"{one.label}: give {one.low:g} to {one.high:g}.")
    return {
        one.name: float(said[one.name])
        for one in WEIGHED
        if one.name in said and said[one.name] != one.usual
    }

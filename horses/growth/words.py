"""A window in plain words: why this day, and what would change it. Pure."""

from collections.abc import Callable
from datetime import date

from horses.growth.terms import Band, Estimate, Left, Policy, Window
from horses.hoof import FOOT_NAMES

SayLength = Callable[[float], str]
SayDay = Callable[[date], str]


def say_mm(mm: float) -> str:
    """``12 mm``, ``2.1 mm``: a tenth where it matters."""
    text = f"{mm:.1f}" if abs(mm) < 9.95 else f"{mm:.0f}"
    return f"{text.removesuffix('.0')}\u00a0mm"


def say_day(day: date) -> str:
    """``3 March 2026``."""
    return f"{day.day} {day:%B} {day.year}"


def _weeks(weeks: float) -> str:
    text = f"{weeks:.1f}".removesuffix(".0")
    return f"{text} week" if text == "1" else f"{text} weeks"


def _pace(window: Window, length: SayLength) -> str:
    low, high = length(window.low80), length(window.high80)
    return f"{length(window.rate_mm_per_week)} a week (80\u00a0% band {low} to {high})"


def _reached(window: Window, length: SayLength) -> str:
    value = window.limit_value
    if window.limit == "toe_gain":
        return f"{length(value)} gained at the toe"
    if window.limit == "lever_gain":
        return f"a lever {value:.3g}\u00a0% longer"
    return f"{value:.3g}° of toe angle lost"


def _by_growth(window: Window, length: SayLength, day: SayDay) -> str:
    foot = FOOT_NAMES[window.foot]
    if window.basis == "use":
        return (
            f"no interval is measured yet; at the {_pace(window, length)} usual for "
            f"such a horse, {_reached(window, length)} is expected about "
            f"{day(window.grown)}"
        )
    return (
        f"the {foot} grows {_pace(window, length)}, so {_reached(window, length)} is "
        f"expected about {day(window.grown)}"
    )


_BOUNDS = {
    "least": "but such a horse is not due before {weeks}",
    "most": "but such a horse waits at most {weeks}",
    "latest": "but the very latest is {weeks}",
}


def why(
    window: Window,
    policy: Policy,
    *,
    length: SayLength = say_mm,
    day: SayDay = say_day,
) -> str:
    """One sentence that says where the target comes from.

    Args:
        length: says a length in the practice's unit.
        day: says a day in the practice's way.
    """
    said = _why(window, policy, length, day)
    if window.has_visit:
        return said
    begin = day(window.start)
    return f"Counted from {begin}, as no visit is known: {said[0].lower()}{said[1:]}"


def _why(window: Window, policy: Policy, length: SayLength, day: SayDay) -> str:
    grown = _by_growth(window, length, day)
    target = day(window.target)
    if window.basis == "vet":
        return (
            f"Due on {target}, as a vet's plan asks for {_weeks(window.asked_weeks or 0)}, "
            f"which goes before all else; {grown}."
        )
    if window.basis == "set":
        return (
            f"Due on {target}, as the farrier has set "
            f"{_weeks(window.asked_weeks or 0)}; {grown}."
        )
    if window.bound:
        weeks = {
            "least": policy.least_weeks,
            "most": policy.most_weeks,
            "latest": policy.latest_weeks,
        }[window.bound]
        bound = _BOUNDS[window.bound].format(weeks=_weeks(weeks))
        if window.gain_mm >= 1e6:
            return (
                f"Due on {target}: no limit is set, and {bound.removeprefix('but ')}."
            )
        return f"Due about {target}: {grown}, {bound}."
    return f"Due about {target}: {grown}."


def would_change(estimate: Estimate, window: Window, policy: Policy) -> tuple[str, ...]:
    """What would move the window, the weightiest first; a sentence each."""
    found = []
    if window.basis == "vet":
        found.append("An end of the vet's plan: then set weeks or growth decide again.")
    elif window.basis == "set":
        found.append("Taking the set weeks away: then growth decides.")
    elif window.bound == "least":
        found.append("Fewer weeks at least for this use or horse.")
    elif window.bound in ("most", "latest"):
        found.append("More weeks at most for this use or horse.")
    if estimate.intervals < 8:
        found.append(
            "Measuring the toe before and after each trim: the more intervals, the "
            "narrower the band."
        )
    if estimate.questionable:
        found.append(
            "Mending the questionable readings: they weigh little or nothing now."
        )
    if window.basis in ("growth", "use"):
        found.append("Another limit, or the season.")
    return tuple(found)


def say_left(left: Left, day: date, *, say: SayDay = say_day) -> str:
    """``If left to 3 March 2026: +11 mm (8–14), lever +14 % (10–18), angle −1.2°``."""
    return (
        f"If left to {say(day)}: +{_band(left.gain_mm)}\u00a0mm "
        f"({_range(left.gain_mm)}), lever {_signed(left.lever_percent)}\u00a0% "
        f"({_range(left.lever_percent)}), angle "
        f"{_minus(left.angle_loss_deg.value)}°"
    )


def _band(band: Band) -> str:
    return f"{band.value:.0f}"


def _signed(band: Band) -> str:
    return f"{band.value:+.0f}".replace("-", "−")


def _range(band: Band) -> str:
    return f"{band.low80:.0f}–{band.high80:.0f}".replace("-", "−")


def _minus(loss: float) -> str:
    text = f"{-loss:+.1f}".replace("-", "−")
    return "0" if text in ("+0.0", "−0.0") else text

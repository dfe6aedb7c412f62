"""Limits and weeks as pages show them: what holds for a use, and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from horses.models import Horse, IntervalLimits
from horses.selectors.growth import Said, house, limits_said, priors_of
from horses.trends import said
from practice.models import Practice
from practice.units import LengthUnit

if TYPE_CHECKING:
    from horses.growth import Policy

WORDS = {
    "toe_gain_mm": "gain at the toe",
    "lever_gain_percent": "gain of the lever",
    "angle_loss_deg": "loss of toe angle",
    "least_weeks": "least weeks",
    "most_weeks": "most weeks",
    "latest_weeks": "latest, weeks",
}
BY = {
    "horse": "this horse’s",
    "use": "its use’s",
    "practice": "the practice’s",
    "ours": "usual",
}


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit that holds. ``by``: whose; ``usual`` where nobody has set it."""

    name: str
    word: str
    value: str
    by: str


@dataclass(frozen=True, slots=True)
class UseRow:
    """A use with what holds for it."""

    use: str
    word: str
    limits: tuple[Limit, ...]
    is_own: bool
    source: str


def values_of(policy: Policy, unit: LengthUnit) -> dict[str, str]:
    """What a policy says, each in words; what it doesn't limit is left out."""
    limits = policy.limits
    found = {
        "least_weeks": f"{policy.least_weeks:g}",
        "most_weeks": f"{policy.most_weeks:g}",
        "latest_weeks": f"{policy.latest_weeks:g}",
    }
    if limits.toe_gain_mm is not None:
        found["toe_gain_mm"] = said(limits.toe_gain_mm, "mm", unit)
    if limits.lever_gain_percent is not None:
        found["lever_gain_percent"] = f"{limits.lever_gain_percent:g}\u00a0%"
    if limits.angle_loss_deg is not None:
        found["angle_loss_deg"] = f"{limits.angle_loss_deg:g}°"
    return found


def as_limits(
    policy: Policy, by: dict[str, Said], unit: LengthUnit
) -> tuple[Limit, ...]:
    """The policy's limits in the order of the page, each with whose it is."""
    values = values_of(policy, unit)
    return tuple(
        Limit(name, word, values[name], BY[by[name].by if name in by else "ours"])
        for name, word in WORDS.items()
        if name in values
    )


def for_use(use: str, *, practice: Practice, own: bool = True) -> tuple[Limit, ...]:
    """What holds for a horse of this use that sets nothing itself. Three queries.

    Args:
        own: False leaves out what the use (or the practice, for none) itself sets.
    """
    from horses.growth import policy_for

    limits: dict[str, IntervalLimits] = dict(house().limits)
    if not own:
        limits.pop(use, None)
    by = limits_said(use, None, limits)
    policy = policy_for(use, None, **_changes(by))
    return as_limits(policy, by, _unit(practice))


def _changes(by: dict[str, Said]) -> dict[str, Any]:
    return {name: one.value for name, one in by.items()}


def _unit(practice: Practice) -> LengthUnit:
    unit: LengthUnit = practice.length_unit  # type: ignore[assignment]  # of three
    return unit


def table(practice: Practice) -> dict[str, Any]:
    """The page of all: a row a use, the season as it acts, what was learnt. Three
    queries."""
    from horses.growth import USE_DEFAULTS, policy_for

    held, unit = house(), _unit(practice)
    rows = []
    for use in ("", *Horse.Use.values):
        by = limits_said(use, None, held.limits)
        policy = policy_for(use, None, **_changes(by))
        row = held.limits.get(use)
        rows.append(
            UseRow(
                use=use,
                word=Horse.Use(use).label if use else "all uses",
                limits=as_limits(policy, by, unit),
                is_own=row is not None and any(getattr(row, n) for n in WORDS),
                source=USE_DEFAULTS.get(use, USE_DEFAULTS[""]).source,
            )
        )
    priors = priors_of(held.settings)
    rates = [
        (
            f"{stage}, {'shod' if shod else 'unshod'}",
            said(round(prior.mean, 2), "mm", unit),
        )
        for (stage, shod), prior in priors.of.items()
    ]
    months = [f"{factor:.2f}" for factor in held.season.factors]
    return {"uses": rows, "rates": rates, "months": months}

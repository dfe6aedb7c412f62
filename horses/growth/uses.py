"""Weeks at least, at most and at the very latest, for each use. Pure."""

from dataclasses import dataclass, replace

from horses.growth.priors import stage_of
from horses.growth.terms import Limits, Policy

TOE_GAIN_MM = 12.0
TOE_GAIN_SOURCE = (
    "12 mm is what a foot gains in about six weeks (Kolstrung 2012: 13 mm); as a limit "
    "it is common practice, no source. A rule on length shows sooner than one on angle: "
    "in five weeks toes had lengthened and angles not (a Guelph thesis, 5 horses)"
)
_PRACTICE = "common practice, no source"
_LESNIAK = (
    "Lesniak K et al. (2017) Animals 7(4):29: even four to six weeks shift the centre "
    "of pressure backward in working horses; the figures are common practice, no source"
)
_VAN_HEEL = (
    "van Heel MCV et al. (2005) EVJ 37(6):536-540: after eight weeks the load lies "
    "further back; the figures are common practice, no source"
)


@dataclass(frozen=True, slots=True)
class UseWeeks:
    """Weeks from one visit to the next for a use, with where they come from."""

    least: float
    most: float
    latest: float
    source: str


_RIDING = UseWeeks(4, 8, 9, _VAN_HEEL)
_COMPETING = UseWeeks(4, 7, 8, _LESNIAK)
_KEPT = UseWeeks(5, 10, 12, _PRACTICE)

USE_DEFAULTS: dict[str, UseWeeks] = {
    "": _RIDING,
    "hacking": _RIDING,
    "school": _RIDING,
    "western": _RIDING,
    "showing": _RIDING,
    "driving": _RIDING,
    "dressage": _COMPETING,
    "jumping": _COMPETING,
    "eventing": _COMPETING,
    "hunting": _COMPETING,
    "polo": _COMPETING,
    "endurance": _COMPETING,
    "racing": UseWeeks(3, 5, 6, _PRACTICE),
    "draught": UseWeeks(5, 9, 10, _PRACTICE),
    "breeding": _KEPT,
    "companion": _KEPT,
    "retired": _KEPT,
    "youngstock": UseWeeks(4, 8, 10, _PRACTICE),
}
"""A use that isn't here counts as riding."""

_FOAL = UseWeeks(3, 5, 6, _PRACTICE)


def use_weeks(use: str, age_years: int | None) -> UseWeeks:
    """The weeks for a use; a foal's feet are looked at more often, whatever its use."""
    if stage_of(age_years) == "foal":
        return _FOAL
    return USE_DEFAULTS.get(use, _RIDING)


def policy_for(
    use: str,
    age_years: int | None = None,
    *,
    toe_gain_mm: float | None = None,
    lever_gain_percent: float | None = None,
    angle_loss_deg: float | None = None,
    least_weeks: float | None = None,
    most_weeks: float | None = None,
    latest_weeks: float | None = None,
    set_weeks: float | None = None,
    vet_weeks: float | None = None,
) -> Policy:
    """The use's policy with these changes; None leaves a default.

    A default gives way to what was said: asking for at most 3 weeks lowers the least.
    ``latest_weeks`` caps whatever else was said. ValueError where ``least_weeks`` is
    said to be more than ``most_weeks`` or ``latest_weeks``.
    """
    for more, words in ((most_weeks, "most"), (latest_weeks, "latest")):
        if least_weeks is not None and more is not None and least_weeks > more:
            raise ValueError(f"The least weeks are more than the {words}.")
    usual = use_weeks(use, age_years)
    latest = latest_weeks or max(usual.latest, most_weeks or 0, least_weeks or 0)
    most = min(most_weeks or max(usual.most, least_weeks or 0), latest)
    least = min(least_weeks or usual.least, most)
    return Policy(
        limits=Limits(
            toe_gain_mm=TOE_GAIN_MM if toe_gain_mm is None else toe_gain_mm,
            lever_gain_percent=lever_gain_percent,
            angle_loss_deg=angle_loss_deg,
        ),
        least_weeks=least,
        most_weeks=most,
        latest_weeks=latest,
        set_weeks=set_weeks,
        vet_weeks=vet_weeks,
        hard_latest_weeks=latest_weeks,
    )


def with_limits(policy: Policy, limits: Limits) -> Policy:
    """The same weeks under other limits."""
    return replace(policy, limits=limits)

"""How fast feet grow, what that does to them, and when they are next due. Pure.

``terms`` has the values that go in and come out; ``estimates`` the growth; ``windows``
the days; ``words`` the sentences; ``learn`` what a practice's own records teach.
"""

from horses.growth.effects import capsules_of, leverage_of
from horses.growth.estimates import estimate, estimate_all
from horses.growth.learn import learn_priors, learn_season
from horses.growth.priors import Prior, Priors, default_priors, stage_of
from horses.growth.season import EVEN, Hemisphere, Season, default_season
from horses.growth.terms import (
    RULES_VERSION,
    Band,
    Basis,
    Estimate,
    FootEstimate,
    HorseFacts,
    Left,
    Limits,
    Policy,
    Questionable,
    Reading,
    Record,
    Shape,
    Window,
)
from horses.growth.uses import USE_DEFAULTS, policy_for, with_limits
from horses.growth.windows import left_to, window, windows_all
from horses.growth.words import say_left, why, would_change

__all__ = [
    "EVEN",
    "RULES_VERSION",
    "USE_DEFAULTS",
    "Band",
    "Basis",
    "Estimate",
    "FootEstimate",
    "Hemisphere",
    "HorseFacts",
    "Left",
    "Limits",
    "Policy",
    "Prior",
    "Priors",
    "Questionable",
    "Reading",
    "Record",
    "Season",
    "Shape",
    "Window",
    "capsules_of",
    "default_priors",
    "default_season",
    "estimate",
    "estimate_all",
    "learn_priors",
    "learn_season",
    "left_to",
    "leverage_of",
    "policy_for",
    "say_left",
    "stage_of",
    "why",
    "window",
    "windows_all",
    "with_limits",
    "would_change",
]

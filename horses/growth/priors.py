"""What is believed of a horse's growth before it was ever measured. Pure.

Rates in millimetres a week. One set for each stage of life, shod and unshod apart,
since wear hides the growth of an unshod foot.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Literal

Stage = Literal["foal", "yearling", "adult", "aged"]
Group = tuple[Stage, bool]
"""Stage of life, and whether the horse goes shod."""

AGED_FROM = 20
"""Years from which a horse counts as aged: common practice, no source."""

KOLSTRUNG = (
    "Kolstrung R, Ciesielczuk K, Silmanowicz P (2012) Med Weter 68(7):426-429: about "
    "13 mm in six weeks, 2.1 mm a week, fore as hind, 7 barefoot mares"
)
REILLY = (
    "Reilly JD et al. (1998) EVJ Suppl 26:51-57: 30.69 mm in five months in ponies, "
    "35.34 mm with biotin; older animals grew less"
)
AGES = (
    "the trade's figures by age, no study: foal 15, yearling 12, adult 9, aged 6 mm a "
    "month"
)
SPREAD = (
    "6 to 13 mm a month hold 19 of 20 adult horses (trade texts, and Lungwitz, A "
    "Text-Book of Horseshoeing: 4.2 to 12.7 mm): 0.4 mm a week; Reilly's ponies lie "
    "within"
)
UNSHOD = (
    "ours: growth less the wear of a kept horse at grass (Florence L, McDonnell SM "
    "(2006) EVJ 38(7):642-645 saw 38 % of the toe's length worn off in a summer by "
    "semi-feral ponies)"
)


@dataclass(frozen=True, slots=True)
class Prior:
    """The mean rate of such horses, how far horses differ, and feet of one horse.

    ``mean_sd``: how well the mean itself is known.
    """

    mean: float
    horse_sd: float
    foot_sd: float
    source: str
    mean_sd: float = 0.25


@dataclass(frozen=True, slots=True)
class Priors:
    """A prior for each group. ``visit_sd``: how far the growth of one interval strays
    from the foot's own rate beyond the tape's error, in millimetres a week.
    ``horses``: from how many horses of the practice they were learnt.
    """

    of: Mapping[Group, Prior]
    visit_sd: float = 0.0
    horses: int = 0

    def as_dict(self) -> dict[str, Any]:
        """As JSON values: groups as ``adult shod``, ``foal unshod``, …"""
        return {
            "of": {
                f"{stage} {'shod' if shod else 'unshod'}": asdict(prior)
                for (stage, shod), prior in self.of.items()
            },
            "visit_sd": self.visit_sd,
            "horses": self.horses,
        }

    @classmethod
    def from_dict(cls, document: Mapping[str, Any]) -> "Priors":
        """The inverse of ``as_dict``. A group that is not there is the default's."""
        of = {
            group: Prior(**document["of"][name]) if name in document["of"] else prior
            for group, prior in DEFAULT.of.items()
            for name in (f"{group[0]} {'shod' if group[1] else 'unshod'}",)
        }
        return cls(of, float(document["visit_sd"]), int(document["horses"]))


_FOOT_SD = 0.15
"""How far feet of one horse differ: ours. Kolstrung and Reilly saw no difference
between feet; the 8-week data behind van Heel 2005 give 1.75 before, 1.88 behind."""

DEFAULT = Priors(
    {
        ("foal", True): Prior(3.5, 0.6, _FOOT_SD, AGES),
        ("foal", False): Prior(3.5, 0.6, _FOOT_SD, AGES),
        ("yearling", True): Prior(2.8, 0.5, _FOOT_SD, AGES),
        ("yearling", False): Prior(2.6, 0.5, _FOOT_SD, AGES),
        ("adult", True): Prior(2.1, 0.4, _FOOT_SD, f"{KOLSTRUNG}; {SPREAD}"),
        ("adult", False): Prior(1.8, 0.5, _FOOT_SD, f"{KOLSTRUNG}; {UNSHOD}"),
        ("aged", True): Prior(1.7, 0.4, _FOOT_SD, f"{REILLY}; {AGES}"),
        ("aged", False): Prior(1.5, 0.45, _FOOT_SD, f"{REILLY}; {AGES}; {UNSHOD}"),
    }
)
"""Aged: between the trade's 6 mm and Reilly's 6.1 to 7.1 mm a month on one side and an
adult's 9 on the other. From 20 to 30 years the one turns into the other: ours."""


def default_priors() -> Priors:
    """``DEFAULT``: each with its source."""
    return DEFAULT


def stage_of(age_years: int | None) -> Stage:
    """By the calendar: foaled this year, last year, later; unknown counts as adult."""
    if age_years is None:
        return "adult"
    if age_years < 1:
        return "foal"
    if age_years < 2:
        return "yearling"
    return "aged" if age_years >= AGED_FROM else "adult"

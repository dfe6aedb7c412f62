"""One consideration as data: when it applies, what is weighed, why, and against what."""

from dataclasses import dataclass
from typing import Literal

from horses.considerations.case import Test

Topic = Literal["vet", "defer", "limb", "foot", "use"]

TOPICS: dict[Topic, str] = {
    "vet": "Call a vet first",
    "defer": "For a vet to lead",
    "limb": "How the limb is built",
    "foot": "What the foot shows",
    "use": "Use, age and interval",
}
"""Headings, in the order in which considerations are shown."""

COMMON = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Consideration:
    """What the trade commonly weighs when ``applies`` names limbs (or the horse).

    ``when`` says the same in words. ``is_lasting``: about how the limb is built, so the
    horse's age decides what is said beside it. ``caution`` where it could hurt.
    """

    code: str
    topic: Topic
    title: str
    when: str
    applies: Test
    weighs: str
    reason: str
    against: str
    source: str = COMMON
    caution: str = ""
    is_lasting: bool = False

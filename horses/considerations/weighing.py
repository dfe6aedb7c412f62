"""All considerations, and those that apply to one horse, a vet's first."""

from dataclasses import dataclass

from horses.conformation import lasting
from horses.considerations.case import Case
from horses.considerations.feet import FEET
from horses.considerations.limbs import LIMBS
from horses.considerations.rule import TOPICS, Consideration
from horses.considerations.uses import USES
from horses.considerations.vet import DEFER, VET
from horses.hoof import Foot

RULES_VERSION = "considerations 1"
"""Changes when a rule of this package does."""

ALL: tuple[Consideration, ...] = (*VET, *DEFER, *LIMBS, *FEET, *USES)
BY_CODE: dict[str, Consideration] = {rule.code: rule for rule in ALL}

VET_FIRST = (
    "Something here is for a vet first. What else the trade would weigh stands below, "
    "but waits for the vet's word."
)


WAITS_FOR_VET = "Waits for the vet's word."
FOAL_WAITS = "A foal's feet and limbs: a vet leads."
HELD_FOR_FOALS = frozenset({"limb", "foot"})


@dataclass(frozen=True, slots=True)
class Weighed:
    """A consideration that applies: the limbs it speaks of (none: the whole horse),
    what to say of the horse's age, and why it waits for a vet's word, if it does.
    """

    rule: Consideration
    feet: tuple[Foot, ...]
    age_words: str
    waits: str


def weigh(case: Case) -> tuple[Weighed, ...]:
    """What applies to this horse, in the order of topics: vet, deferred, limb, foot,
    use. Nothing in it is filled in anywhere.
    """
    applying = [
        (rule, feet) for rule in ALL if (feet := rule.applies(case)) is not None
    ]
    vet_first = any(rule.topic == "vet" for rule, _ in applying)
    said = lasting(case.age_years, case.use)
    return tuple(
        Weighed(
            rule,
            feet,
            age_words=said if rule.is_lasting else "",
            waits=_waits(rule, case, vet_first=vet_first),
        )
        for rule, feet in applying
    )


def _waits(rule: Consideration, case: Case, *, vet_first: bool) -> str:
    if rule.topic == "vet":
        return ""
    if vet_first:
        return WAITS_FOR_VET
    return FOAL_WAITS if case.stage == "foal" and rule.topic in HELD_FOR_FOALS else ""


def by_topic(
    rules: tuple[Consideration, ...] = ALL,
) -> list[tuple[str, list[Consideration]]]:
    """Heading → its rules, in order, for the page that lists them all."""
    return [
        (heading, [rule for rule in rules if rule.topic == topic])
        for topic, heading in TOPICS.items()
    ]

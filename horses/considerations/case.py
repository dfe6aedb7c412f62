"""What is known of one horse when considerations are weighed, and how rules ask it.

Limbs by name, the foot's findings and flags, use, age in whole years, which feet are
shod, weeks between visits.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from horses.conformation import Built, stage
from horses.hoof import FEET, MATE, Foot

Where = tuple[Foot, ...]
Test = Callable[["Case"], "Where | None"]
"""The limbs that a rule speaks of; empty for the whole horse, None: does not apply."""


@dataclass(frozen=True, slots=True)
class On:
    """One finding on one foot, in the keys of ``horses.findings``."""

    foot: Foot
    kind: str
    place: str = ""
    grade: str = ""


@dataclass(frozen=True, slots=True)
class Flagged:
    """One flag of ``horses.hoof`` that shows on one foot (likely or clear).
    ``low_angle`` is ours: a fore foot's dorsal angle in the class 'flat'.
    """

    foot: Foot
    code: str


@dataclass(frozen=True, slots=True)
class Case:
    """One horse at one visit, for weighing. ``shod`` are feet that carry a shoe."""

    built: tuple[Built, ...] = ()
    findings: tuple[On, ...] = ()
    flags: tuple[Flagged, ...] = ()
    use: str = ""
    age_years: int | None = None
    shod: frozenset[Foot] = frozenset()
    is_recorded: bool = True
    interval_weeks: int | None = None

    @property
    def stage(self) -> str:
        return stage(self.age_years, self.use)


def _feet(found: Iterable[Foot]) -> Where | None:
    """In order, each once; None for none."""
    known = set(found)
    return tuple(foot for foot in FEET if foot in known) or None


def built(
    kind: str,
    *directions: str,
    place: str = "",
    grades: tuple[str, ...] = (),
    end: str = "",
) -> Test:
    """Limbs with a trait: any of the directions, at that place, that grave, F or H."""

    def ask(case: Case) -> Where | None:
        return _feet(
            b.limb
            for b in case.built
            if b.kind == kind
            and (not directions or b.direction in directions)
            and (not place or b.place == place)
            and (not grades or b.grade in grades)
            and b.limb.endswith(end)
        )

    return ask


def found(
    kind: str,
    *,
    places: tuple[str, ...] = (),
    grades: tuple[str, ...] = (),
    but: tuple[str, ...] = (),
) -> Test:
    """Feet with a finding, at any of the places, with a grade among ``grades`` and not
    among ``but``.
    """

    def ask(case: Case) -> Where | None:
        return _feet(
            f.foot
            for f in case.findings
            if f.kind == kind
            and (not places or f.place in places)
            and (not grades or f.grade in grades)
            and f.grade not in but
        )

    return ask


def flagged(*codes: str, end: str = "") -> Test:
    """Feet on which any of these flags shows."""

    def ask(case: Case) -> Where | None:
        return _feet(
            f.foot for f in case.flags if f.code in codes and f.foot.endswith(end)
        )

    return ask


def either(*tests: Test) -> Test:
    """The feet of all that apply; the whole horse where one speaks of it."""

    def ask(case: Case) -> Where | None:
        answers = [answer for test in tests if (answer := test(case)) is not None]
        if not answers:
            return None
        if () in answers:
            return ()
        return _feet(foot for answer in answers for foot in answer)

    return ask


def both(*tests: Test) -> Test:
    """Where all apply: the feet that all name; a test of the whole horse narrows none."""

    def ask(case: Case) -> Where | None:
        answers = [test(case) for test in tests]
        named: set[Foot] = set(FEET)
        for answer in answers:
            if answer is None:
                return None
            if answer:
                named &= set(answer)
        if all(answer == () for answer in answers):
            return ()
        return _feet(named)

    return ask


def on_fore(test: Test) -> Test:
    return _at_end(test, "F")


def on_hind(test: Test) -> Test:
    return _at_end(test, "H")


def _at_end(test: Test, end: str) -> Test:
    def ask(case: Case) -> Where | None:
        return _feet(foot for foot in test(case) or () if foot.endswith(end))

    return ask


# ---- The horse -------------------------------------------------------------------
def _whole(holds: bool) -> Where | None:
    return () if holds else None


def used_for(*uses: str) -> Test:
    return lambda case: _whole(case.use in uses)


def stages(*names: str) -> Test:
    """Foal, growing, mature or unknown (``horses.conformation.stage``)."""
    return lambda case: _whole(case.stage in names)


def aged(from_years: int) -> Test:
    return lambda case: _whole((case.age_years or 0) >= from_years)


def interval_over(weeks: int) -> Test:
    return lambda case: _whole((case.interval_weeks or 0) > weeks)


def shod_at_all(case: Case) -> Where | None:
    return _whole(bool(case.shod))


def unshod(case: Case) -> Where | None:
    """Recorded, and no foot carries a shoe."""
    return _whole(case.is_recorded and not case.shod)


def shod_there(case: Case) -> Where | None:
    return _feet(case.shod)


DEVIATIONS = ("angular", "axial_rotation", "stance", "offset")


def deviations(at_least: int) -> Test:
    """Limbs that deviate, where the horse has that many deviations in all."""

    def ask(case: Case) -> Where | None:
        limbs = [b.limb for b in case.built if b.kind in DEVIATIONS]
        return _feet(limbs) if len(limbs) >= at_least else None

    return ask


def pair_differs(*kinds: str) -> Test:
    """Limbs of a pair that are built differently in one of these respects."""

    def ask(case: Case) -> Where | None:
        def of(limb: Foot) -> set[tuple[str, str, str]]:
            return {
                (b.kind, b.place, b.direction)
                for b in case.built
                if b.limb == limb and b.kind in kinds
            }

        return _feet(limb for limb in FEET if of(limb) != of(MATE[limb]))

    return ask


def _side(place: str) -> str:
    return place.split("_")[0] if place.startswith(("medial", "lateral")) else ""


def opposite_heels(case: Case) -> Where | None:
    """Feet with one heel flared and the other under-run."""
    heels: dict[Foot, dict[str, set[str]]] = {}
    for seen in case.findings:
        if seen.kind in ("flare", "underrun_heel") and seen.place.endswith("heel"):
            heels.setdefault(seen.foot, {}).setdefault(seen.kind, set()).add(
                _side(seen.place)
            )
    return _feet(
        foot
        for foot, kinds in heels.items()
        if any(
            a != b
            for a in kinds.get("flare", ())
            for b in kinds.get("underrun_heel", ())
        )
    )

"""How a horse's limbs are built, and what is weighed for it, as pages show them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet

from horses.conformation import BY_CODE as BY_TRAIT
from horses.conformation import Built, from_finding, lasting, plain, words
from horses.considerations.case import Case, Flagged, On
from horses.considerations.rule import TOPICS
from horses.considerations.weighing import BY_CODE, Weighed, weigh
from horses.drawing.limb import LimbPicture
from horses.entries import SHOD_WORK, FootEntry, RecordEntry
from horses.feet import FootLook, look_at
from horses.hoof import FEET, FOOT_NAMES, Foot, angle_class
from horses.models import Conformation, ConsiderationChoice, Horse, VisitRecord
from horses.selectors.records import entry_of, last_record, with_feet
from practice.models import Change, Practice, User


@dataclass(frozen=True, slots=True)
class Trait:
    """One trait of one limb, in both wordings, with its row."""

    row: Conformation
    built: Built
    words: str
    plain: str


@dataclass(frozen=True, slots=True)
class LimbLook:
    """One limb as pages show it: what stands, in the order of its numbers."""

    limb: Foot
    name: str
    traits: tuple[Trait, ...]

    @property
    def picture(self) -> LimbPicture:
        return LimbPicture(self.limb, tuple(trait.built for trait in self.traits))

    @property
    def seen_from(self) -> str:
        return "the front" if self.limb.endswith("F") else "behind"


def built_of(row: Conformation) -> Built:
    """The row as plain values."""
    return Built(
        row.limb,  # type: ignore[arg-type]  # a constraint holds it to the four
        row.kind,
        row.place,
        row.direction,
        row.grade,
        row.note,
    )


def trait_of(row: Conformation) -> Trait:
    built = built_of(row)
    return Trait(row, built, words(built), plain(built))


_ORDER = {code: at for at, code in enumerate(BY_TRAIT)}


def _in_order(trait: Trait) -> tuple[int, date]:
    return _ORDER.get(trait.built.code, len(_ORDER)), trait.row.seen_on


def looks_of(rows: Iterable[Conformation]) -> list[LimbLook]:
    """All four limbs, LF RF LH RH, with what these rows say, in the order in which
    pages offer it."""
    traits = sorted((trait_of(row) for row in rows), key=_in_order)
    return [
        LimbLook(
            limb,
            FOOT_NAMES[limb],
            tuple(trait for trait in traits if trait.row.limb == limb),
        )
        for limb in FEET
    ]


def limbs_on(horse: Horse, *, day: date) -> list[LimbLook]:
    """The limbs of which something was known on ``day``. One query."""
    rows = Conformation.objects.filter(horse=horse).on(day)
    return [look for look in looks_of(rows) if look.traits]


def limbs_for(viewer: User, horse: Horse, *, day: date) -> list[LimbLook]:
    """The same, as far as this viewer may see it. One query."""
    rows = Conformation.objects.visible_to(viewer).filter(horse=horse).on(day)
    return [look for look in looks_of(rows) if look.traits]


@dataclass(frozen=True, slots=True)
class Amended:
    """One amendment of a trait, its old and new words, and why."""

    at: datetime
    by: str
    limb: str
    before: str
    after: str
    reason: str


def _amended(change: Change) -> Amended:
    return Amended(
        at=change.at,
        by=change.by.name if change.by else "",
        limb=str(change.after.get("limb", "")),
        before=_told(change.before),
        after=_told(change.after),
        reason=change.reason,
    )


def _told(document: dict[str, Any]) -> str:
    """A trait as the audit trail keeps it, in words with its day and note."""
    built = Built(
        document.get("limb", ""),
        *(document.get(name, "") for name in ("kind", "place", "direction", "grade")),
    )
    parts = (words(built), f"seen {document.get('seen_on')}", document.get("note", ""))
    return ", ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class LimbFile:
    """All that is known of a horse's limbs: what stands, what ended, what was amended,
    and the sentence that its age asks for."""

    looks: list[LimbLook]
    ended: list[Trait]
    changes: list[Amended]
    lasting: str


def limb_file(horse: Horse, *, today: date) -> LimbFile:
    """The page of a horse's limbs. Two queries."""
    rows = list(Conformation.objects.filter(horse=horse).select_related("seen_by"))
    keys = [str(row.pk) for row in rows]
    changes = Change.objects.filter(
        label=Conformation._meta.label_lower,
        object_id__in=keys,
        action="amend conformation",
    )
    return LimbFile(
        looks=looks_of(row for row in rows if row.ended_on is None),
        ended=[trait_of(row) for row in rows if row.ended_on is not None],
        changes=[
            _amended(change)
            for change in changes.select_related("by").order_by("-at")[:20]
        ],
        lasting=lasting(age_on(horse, today), horse.use),
    )


def age_on(horse: Horse, day: date) -> int | None:
    """Whole years on ``day``: by the day of foaling, else by calendar years."""
    if horse.foaled_on:
        born = horse.foaled_on
        return day.year - born.year - ((day.month, day.day) < (born.month, born.day))
    if horse.foaled_year:
        return max(0, day.year - horse.foaled_year)
    return None


# ---- Considerations ------------------------------------------------------------
def case_of(
    horse: Horse,
    *,
    built: tuple[Built, ...],
    entry: RecordEntry | None,
    practice: Practice,
    day: date,
) -> Case:
    """What is known of the horse on ``day``, for weighing. No query."""
    looks = look_at(
        entry.feet if entry else (),
        length_sd_mm=float(practice.length_sd_mm),
        angle_sd_deg=float(practice.angle_sd_deg),
    )
    feet = entry.feet if entry else ()
    return Case(
        built=(*built, *_also_said(feet, built)),
        findings=tuple(
            On(foot.foot, seen.kind, seen.place, seen.grade)
            for foot in feet
            for seen in foot.findings
        ),
        flags=tuple(flag for look in looks for flag in _flags(look)),
        use=horse.use,
        age_years=age_on(horse, day),
        shod=frozenset(
            foot.foot
            for foot in feet
            if foot.work in SHOD_WORK or (foot.shoe is not None and foot.work != "pull")
        ),
        is_recorded=any(foot.work in ("trim", "pull") for foot in feet),
        interval_weeks=horse.interval_weeks or practice.default_interval_weeks,
    )


def _also_said(feet: Iterable[FootEntry], built: tuple[Built, ...]) -> Iterable[Built]:
    """Traits among the findings of the record that the limbs don't say already."""
    known = {(b.limb, b.kind, b.place, b.direction) for b in built}
    for foot in feet:
        for seen in foot.findings:
            trait = from_finding(foot.foot, seen.kind, seen.grade)
            if trait is None:
                continue
            code = (trait.limb, trait.kind, trait.place, trait.direction)
            if code not in known:
                known.add(code)
                yield trait


def _flags(look: FootLook) -> Iterable[Flagged]:
    for flag in look.flags:
        yield Flagged(look.foot, flag.rule.code)
    angle = look.entry.dorsal_angle_deg
    is_fore = look.foot.endswith("F")
    if is_fore and angle is not None and angle_class(float(angle)) == "flat":
        yield Flagged(look.foot, "low_angle")


@dataclass(frozen=True, slots=True)
class Considered:
    """A consideration that applies, what was made of it at this visit, and what the
    time before."""

    weighed: Weighed
    choice: ConsiderationChoice | None
    before: ConsiderationChoice | None

    @property
    def answer(self) -> str:
        return self.choice.answer if self.choice else ""

    @property
    def feet_words(self) -> str:
        return ", ".join(self.weighed.feet)


@dataclass(frozen=True, slots=True)
class Weighing:
    """What is weighed for one horse: at which record, from what was recorded when."""

    horse: Horse
    record: VisitRecord | None
    from_day: date | None
    rows: list[Considered]

    @property
    def has_vet(self) -> bool:
        return any(row.weighed.rule.topic == "vet" for row in self.rows)

    @property
    def by_heading(self) -> list[tuple[str, list[Considered]]]:
        """Vet's first; each topic that has any."""
        found = [
            (
                heading,
                [row for row in self.rows if row.weighed.rule.topic == topic],
            )
            for topic, heading in TOPICS.items()
        ]
        return [(heading, rows) for heading, rows in found if rows]


def weighing_at(record: VisitRecord, *, practice: Practice) -> Weighing:
    """What applies at this record: from its own findings once it is recorded, else
    from those of the time before. At most nine queries.
    """
    said = record if record.is_recorded else last_record(record)
    return _weighing(
        record.horse, record=record, said=said, practice=practice, day=record.visit.day
    )


def weighing_of(horse: Horse, *, practice: Practice, today: date) -> Weighing:
    """What applies to the horse now, by its last record. At most seven queries."""
    last = (
        with_feet(VisitRecord.objects.filter(horse=horse, is_recorded=True))
        .order_by("-visit__day", "-visit_id")
        .first()
    )
    return _weighing(horse, record=last, said=last, practice=practice, day=today)


def _weighing(
    horse: Horse,
    *,
    record: VisitRecord | None,
    said: VisitRecord | None,
    practice: Practice,
    day: date,
) -> Weighing:
    standing = Conformation.objects.filter(horse=horse).on(day)
    case = case_of(
        horse,
        built=tuple(built_of(row) for row in standing),
        entry=entry_of(said) if said else None,
        practice=practice,
        day=day,
    )
    choices = _choices(horse)
    now = {
        choice.code: choice
        for choice in choices
        if record is not None and choice.record_id == record.pk
    }
    before: dict[str, ConsiderationChoice] = {}
    for choice in choices:
        if record is not None and choice.record.visit.day < record.visit.day:
            before[choice.code] = choice
    return Weighing(
        horse=horse,
        record=record,
        from_day=said.visit.day if said else None,
        rows=[
            Considered(each, now.get(each.rule.code), before.get(each.rule.code))
            for each in weigh(case)
        ],
    )


def _choices(horse: Horse) -> QuerySet[ConsiderationChoice]:
    """All answers for this horse, oldest visit first; those to rules that are gone
    are left out."""
    return (
        ConsiderationChoice.objects.filter(record__horse=horse, code__in=list(BY_CODE))
        .select_related("record__visit", "by")
        .order_by("record__visit__day", "record_id")
    )

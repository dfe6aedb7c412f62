"""From what a record says of a foot to what is drawn and reckoned of it. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from horses.drawing.ground import FootPicture
from horses.drawing.shoe import ShoePicture
from horses.drawing.side import SidePicture
from horses.entries import (
    LENGTHS,
    MEASURES,
    SHOD_WORK,
    FootEntry,
    RecordEntry,
    ShoeEntry,
    tidy,
)
from horses.findings import KINDS, Seen, sentence, vet_advice
from horses.hoof import (
    ANGLE_SD_DEG,
    FEET,
    FOOT_NAMES,
    LENGTH_SD_MM,
    MATE,
    BaseSplit,
    Figure,
    Flag,
    Foot,
    FootMeasures,
    base_split,
    derived,
    flags,
)

WORK_WORDS: dict[str, str] = {
    "": "",
    "none": "left alone",
    "trim": "trim",
    "reset": "reset",
    "new_shoe": "new shoe",
    "pull": "shoe pulled",
}
FIGURE_WORDS: dict[str, tuple[str, str]] = {
    "toe_heel_angle_difference_deg": ("toe angle less heel angle", "°"),
    "hoof_pastern_angle_deg": ("hoof angle less pastern angle", "°"),
    "pair_angle_difference_deg": ("toe angle against its pair", "°"),
    "wall_height_difference_mm": ("wall heights apart", "mm"),
    "heel_length_difference_mm": ("heel lengths apart", "mm"),
    "toe_heel_length_ratio": ("toe length to heel length", ": 1"),
    "width_length_ratio": ("width to length", ""),
    "ahead_of_widest_percent": ("ahead of the widest part", "%"),
    "frog_ratio": ("frog width to length", ""),
}
"""Words and unit of each derived figure."""

_MEASURED = (
    "dorsal_length_mm",
    "dorsal_angle_deg",
    "heel_length_mm",
    "heel_length_medial_mm",
    "heel_length_lateral_mm",
    "heel_angle_deg",
    "medial_height_mm",
    "lateral_height_mm",
    "width_mm",
    "length_mm",
    "widest_from_toe_mm",
    "pastern_angle_deg",
    "frog_width_mm",
    "frog_length_mm",
)


@dataclass(frozen=True, slots=True)
class Reading:
    """A derived figure in words, with the flag that hangs on it, if one shows."""

    words: str
    figure: Figure
    unit: str
    flags: tuple[Flag, ...]


@dataclass(frozen=True, slots=True)
class FootLook:
    """One foot as pages, reports and timelines show it."""

    foot: Foot
    name: str
    entry: FootEntry
    work: str
    picture: FootPicture
    side: SidePicture | None
    findings: tuple[str, ...]
    shoe: str
    readings: tuple[Reading, ...]
    base: BaseSplit | None = None

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Those that show, clear or likely."""
        return tuple(flag for reading in self.readings for flag in reading.flags)

    @property
    def flag_count(self) -> int:
        """How many show."""
        return len(self.flags)


def _f(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def measures_of(
    foot: FootEntry, *, length_sd_mm: float, angle_sd_deg: float
) -> FootMeasures:
    """The foot's measurements before the trim, for ``horses.hoof``."""
    return FootMeasures(
        foot.foot,
        pair=None,
        length_sd_mm=length_sd_mm,
        angle_sd_deg=angle_sd_deg,
        **{name: _f(getattr(foot, name)) for name in _MEASURED},
    )


def _shoe_picture(foot: FootEntry) -> ShoePicture | None:
    shoe = foot.shoe
    if shoe is None:
        return ShoePicture(profile="plain") if foot.work in SHOD_WORK else None
    return ShoePicture(
        profile=shoe.profile,
        metal=shoe.metal or "steel",
        style=shoe.style.lower(),
        toe_treatment=shoe.toe_treatment,
        toe_place=shoe.toe_place or "toe",
        clips=shoe.clips.lower(),
        pad=shoe.pad,
        nails_medial=shoe.nails_medial or 0,
        nails_lateral=shoe.nails_lateral or 0,
    )


def seen_on(foot: FootEntry) -> tuple[Seen, ...]:
    """The findings, in the order in which they are numbered."""
    return tuple(Seen(s.kind, s.place, s.grade, s.note) for s in foot.findings)


def picture_of(foot: FootEntry) -> FootPicture:
    """What the ground view shows."""
    return FootPicture(
        foot.foot,
        shoe=_shoe_picture(foot),
        findings=seen_on(foot),
        width_mm=_f(foot.width_mm),
        length_mm=_f(foot.length_mm),
        work=WORK_WORDS.get(foot.work, foot.work).capitalize(),
    )


def side_of(foot: FootEntry) -> SidePicture | None:
    """What the side view shows; None without toe length and angle."""
    length, angle = _f(foot.dorsal_length_mm), _f(foot.dorsal_angle_deg)
    if length is None or angle is None:
        return None
    return SidePicture(
        foot.foot,
        dorsal_length_mm=length,
        dorsal_angle_deg=angle,
        heel_length_mm=_f(foot.heel_length_mm),
        heel_angle_deg=_f(foot.heel_angle_deg),
        length_mm=_f(foot.length_mm),
        pastern_angle_deg=_f(foot.pastern_angle_deg),
        shod=_shoe_picture(foot) is not None,
    )


def _plain(mm: Decimal) -> str:
    return f"{mm:f}".removesuffix(".0")


def shoe_words(shoe: ShoeEntry | None) -> str:
    """What was fitted, in a line; lengths of the section in mm."""
    if shoe is None:
        return ""
    section = ""
    if shoe.section_width_mm is not None and shoe.section_thickness_mm is not None:
        section = (
            f"{_plain(shoe.section_width_mm)} × {_plain(shoe.section_thickness_mm)} mm"
        )
    toe = ""
    if shoe.toe_treatment not in ("", "plain"):
        words = {"rolled": "rolled toe", "rocker": "rocker toe"}
        toe = words.get(shoe.toe_treatment, shoe.toe_treatment.replace("_", " "))
        if shoe.toe_place not in ("", "toe"):
            toe += f" at the {shoe.toe_place.replace('_', ' ')}"
    nails = ""
    if shoe.nails_medial is not None or shoe.nails_lateral is not None:
        nails = (
            f"nails {shoe.nails_medial or 0} medial, {shoe.nails_lateral or 0} lateral"
        )
    parts = (
        " ".join(w for w in (shoe.metal, shoe.profile.replace("_", "-"), section) if w),
        shoe.style,
        f"size {shoe.size}" if shoe.size else "",
        toe,
        f"clips: {shoe.clips}" if shoe.clips else "",
        f"heels: {shoe.heels}" if shoe.heels else "",
        f"traction: {shoe.traction}" if shoe.traction else "",
        f"pad: {shoe.pad}" if shoe.pad else "",
        nails,
        shoe.note,
    )
    return ", ".join(part for part in parts if part)


def _readings(measures: FootMeasures) -> tuple[Reading, ...]:
    shown = [flag for flag in flags(measures) if flag.state != "not shown"]
    return tuple(
        Reading(
            FIGURE_WORDS[name][0],
            figure,
            FIGURE_WORDS[name][1],
            tuple(flag for flag in shown if flag.rule.figure == name),
        )
        for name, figure in derived(measures).items()
    )


def _told(seen: Seen) -> str:
    """A finding in words, with its note."""
    return f"{sentence(seen)}: {seen.note}" if seen.note else sentence(seen)


def look_at(
    feet: Iterable[FootEntry],
    *,
    length_sd_mm: float = LENGTH_SD_MM,
    angle_sd_deg: float = ANGLE_SD_DEG,
) -> tuple[FootLook, ...]:
    """Each of these feet as it is shown, LF RF LH RH; the pair is read with its mate."""
    by_foot = {foot.foot: foot for foot in feet}
    plain = {
        name: measures_of(foot, length_sd_mm=length_sd_mm, angle_sd_deg=angle_sd_deg)
        for name, foot in by_foot.items()
    }
    return tuple(
        FootLook(
            foot=name,
            name=FOOT_NAMES[name],
            entry=by_foot[name],
            work=WORK_WORDS.get(by_foot[name].work, by_foot[name].work),
            picture=picture_of(by_foot[name]),
            side=side_of(by_foot[name]),
            findings=tuple(_told(seen) for seen in seen_on(by_foot[name])),
            shoe=shoe_words(by_foot[name].shoe),
            readings=_readings(replace(plain[name], pair=plain.get(MATE[name]))),
            base=base_split(plain[name]),
        )
        for name in FEET
        if name in by_foot
    )


def advice_for(feet: Iterable[FootEntry]) -> list[str]:
    """When to call a vet, for all that was seen on these feet; each once."""
    kinds = [seen.kind for foot in feet for seen in foot.findings]
    return vet_advice([kind for kind in kinds if kind in KINDS])


# ---- What differs ------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that two records say differently; lengths in mm, angles in degrees."""

    words: str
    before: str
    after: str


_TEXTS = (
    ("way_of_going", "way of going"),
    ("note", "note"),
    ("advice", "advice"),
)


def differences(before: RecordEntry, after: RecordEntry) -> list[Difference]:
    """What the second says otherwise than the first, in words, feet in order."""
    found = [
        Difference(words, getattr(before, name), getattr(after, name))
        for name, words in _TEXTS
        if getattr(before, name) != getattr(after, name)
    ]
    if before.work != after.work:
        found.insert(0, Difference("work to be billed", "", ""))
    if before.vet_advised != after.vet_advised:
        yes = {True: "yes", False: "no"}
        found.append(
            Difference("vet advised", yes[before.vet_advised], yes[after.vet_advised])
        )
    pairs = zip(tidy(before).all_feet(), tidy(after).all_feet(), strict=True)
    for one, other in pairs:
        old, new = _foot_words(one), _foot_words(other)
        found += [
            Difference(f"{one.foot} {words}", old[words], new[words])
            for words in old
            if old[words] != new[words]
        ]
    return found


def _foot_words(foot: FootEntry) -> dict[str, str]:
    """All that a foot says, by its words."""
    said = {"work": WORK_WORDS.get(foot.work, foot.work)}
    for name, words in MEASURES.items():
        value: Decimal | None = getattr(foot, name)
        unit = " mm" if name in LENGTHS else "°"
        said[words] = "" if value is None else f"{_plain(value)}{unit}"
    said["findings"] = "; ".join(_told(seen) for seen in seen_on(foot))
    said["shoe"] = shoe_words(foot.shoe)
    said["note"] = foot.note
    return said

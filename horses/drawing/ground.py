"""One foot from the ground side, toe up, with shoe and numbered findings. Pure.

A left foot has its medial side at the left, a right foot at the right: the two mirror
each other, and both sides carry their word.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from horses.drawing import pen
from horses.drawing.outline import Shape, frog, horn, shape_of
from horses.drawing.shoe import ShoePicture, steel
from horses.findings import Seen, sentence
from horses.hoof import FOOT_NAMES, Foot


@dataclass(frozen=True, slots=True)
class FootPicture:
    """One foot to draw. Sizes shape the outline where both are known, in mm."""

    foot: Foot
    shoe: ShoePicture | None = None
    findings: tuple[Seen, ...] = ()
    width_mm: float | None = None
    length_mm: float | None = None
    work: str = ""


def _spot(place: str, shape: Shape) -> pen.Point:
    """Where a finding at this place is marked; the side's word gives the sign."""
    sign = -1 if place.startswith("medial") else 1
    where = place.removeprefix("medial_").removeprefix("lateral_")
    along = {"toe_quarter": 0.14, "quarter": shape.widest, "heel": 0.95}.get(where)
    if along is not None:
        return shape.at(sign * shape.half(along), along)
    return {
        "toe": shape.at(0, 0.01),
        "frog": shape.at(0, 0.8),
        "bars": shape.at(0.42, 0.78),
        "sole": shape.at(-0.36, 0.36),
    }.get(where, shape.at(0, 0.26))


def _marks(findings: Iterable[Seen], shape: Shape) -> str:
    drawn, taken = [], dict[str, int]()
    for number, seen in enumerate(findings, start=1):
        x, y = _spot(seen.place, shape)
        again = taken.get(seen.place, 0)
        taken[seen.place] = again + 1
        inward = 1 if x <= pen.MIDDLE else -1
        x, y = x + inward * 23 * again, y + (9 * again if again else 0)
        x, y = min(max(x, 15), pen.WIDE - 15), min(max(y, 16), pen.HIGH - 40)
        drawn.append(
            pen.tag(
                "circle",
                cx=x,
                cy=y,
                r=12.5,
                fill=pen.MARK,
                stroke="#fff",
                stroke_width=2.5,
            )
        )
        drawn.append(
            pen.word(
                str(number),
                x,
                y + 6,
                fill="#fff",
                font_size="17",
                font_weight="700",
                text_anchor="middle",
            )
        )
    return "".join(drawn)


def _shoe_words(shoe: ShoePicture) -> str:
    parts = [
        " ".join(
            word
            for word in (shoe.metal, shoe.profile.replace("_", "-"), shoe.style)
            if word
        )
        + " shoe"
    ]
    if shoe.toe_treatment not in ("", "plain"):
        place = shoe.toe_place.replace("_", " ")
        parts.append(f"{shoe.toe_treatment.replace('_', ' ')} at the {place or 'toe'}")
    if shoe.clips:
        parts.append(f"clips: {shoe.clips}")
    if shoe.nails_medial or shoe.nails_lateral:
        parts.append(f"nails: {shoe.nails_medial} medial, {shoe.nails_lateral} lateral")
    if shoe.pad:
        parts.append(f"pad: {shoe.pad}")
    return ", ".join(parts)


def describe(picture: FootPicture) -> str:
    """The drawing in words, for those who don't see it."""
    said = [f"{picture.work}." if picture.work else ""]
    said.append(f"{_shoe_words(picture.shoe)}." if picture.shoe else "Bare foot.")
    said += [f"{i}: {sentence(seen)}." for i, seen in enumerate(picture.findings, 1)]
    return " ".join(part for part in said if part)


def ground_view(picture: FootPicture) -> str:
    """The foot from the ground side, toe up, with shoe and numbered findings.

    The outline has the measured width and length where both are known; else that of
    a usual fore or hind foot. Numbers follow the order of ``findings``.
    """
    shape = shape_of(
        is_hind=picture.foot.endswith("H"),
        is_right=picture.foot.startswith("R"),
        width_mm=picture.width_mm,
        length_mm=picture.length_mm,
    )
    left = shape.wall_from_left()
    shoe = picture.shoe
    medial, lateral = (
        (("start", 8.0), ("end", pen.WIDE - 8.0))
        if shape.side > 0
        else (("end", pen.WIDE - 8.0), ("start", 8.0))
    )
    name = FOOT_NAMES[picture.foot].capitalize()
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {pen.WIDE} {pen.HIGH}" '
            f'class="foot-ground" role="img" data-foot="{picture.foot}">'
        ),
        f"<title>{name} foot from the ground side</title>",
        f"<desc>{escape(describe(picture))}</desc>",
        horn(shape, left),
        frog(shape),
    ]
    if shoe is not None:
        if shoe.pad:
            under = pen.offset(left, lambda i: 14.0)
            parts.append(
                pen.path(pen.smooth(under) + "Z", fill=pen.PAD, opacity="0.75")
            )
        parts.append(steel(shoe, left, shape))
    parts += [
        _marks(picture.findings, shape),
        pen.word("medial", medial[1], pen.HIGH - 10.0, text_anchor=medial[0]),
        pen.word("lateral", lateral[1], pen.HIGH - 10.0, text_anchor=lateral[0]),
        pen.word(
            picture.foot,
            pen.MIDDLE,
            pen.HIGH - 8.0,
            font_size="24",
            font_weight="700",
            text_anchor="middle",
        ),
        "</svg>",
    ]
    return "".join(parts)

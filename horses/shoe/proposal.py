"""Where a plan starts: the foot as last measured upon the last plan, or a usual foot.

Pure. A start is for the farrier to change; what was not measured is named, so that a
page can say so.
"""

from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from horses.hoof import Foot

HOOF_KEYS = ("width_mm", "length_mm", "widest_from_toe_mm")
USUAL_WIDTH_MM = {False: 127.0, True: 120.0}
USUAL_LENGTH_MM = {False: 130.0, True: 128.0}
USUAL_WIDEST_SHARE = {False: 0.5, True: 0.54}
USUAL_WALL_MM = 10.0
USUAL_NAIL_SHARE = 0.9
"""A middling riding horse, by 'is hind': common practice, no source."""

LEAST_WIDEST_SHARE, MOST_WIDEST_SHARE = 0.2, 0.9


@dataclass(frozen=True, slots=True)
class Start:
    """A document of ``SHOE_IN``, and the hoof's keys in it that nobody measured."""

    document: dict[str, Any]
    unmeasured: tuple[str, ...]


def _usual(foot: Foot) -> dict[str, Any]:
    hind = foot.endswith("H")
    return {
        "foot": foot,
        "hoof": {
            "width_mm": USUAL_WIDTH_MM[hind],
            "length_mm": USUAL_LENGTH_MM[hind],
            "sound_wall_mm": USUAL_WALL_MM,
        },
        "shoe": {
            "metal": "steel",
            "section": {"profile": "fullered", "width_mm": 20.0, "thickness_mm": 8.0},
            "toe": {"treatment": "plain", "at": "toe", "foot_dressed": False},
            "heel_past_buttress_mm": {"medial": 6.0, "lateral": 6.0},
            "nails": {"medial": 3, "lateral": 3},
        },
    }


def _shod(document: dict[str, Any], shoe: Mapping[str, Any]) -> None:
    """What the last shoe was: only what a plan has a word for."""
    said = document["shoe"]
    if shoe.get("metal") in ("steel", "aluminium"):
        said["metal"] = shoe["metal"]
    if shoe.get("profile"):
        said["section"]["profile"] = shoe["profile"]
    for key in ("width_mm", "thickness_mm"):
        if shoe.get(f"section_{key}"):
            said["section"][key] = float(shoe[f"section_{key}"])
    if shoe.get("toe_treatment"):
        said["toe"]["treatment"] = shoe["toe_treatment"]
        said["toe"]["at"] = shoe.get("toe_place") or "toe"
        said["toe"]["foot_dressed"] = shoe["toe_treatment"] == "rocker"
    for side in ("medial", "lateral"):
        if shoe.get(f"nails_{side}") is not None:
            said["nails"][side] = int(shoe[f"nails_{side}"])


def proposed(
    foot: Foot,
    *,
    measured: Mapping[str, float | None],
    out_mm: Mapping[str, float] | None = None,
    last_plan: Mapping[str, Any] | None = None,
    last_shoe: Mapping[str, Any] | None = None,
    findings: Sequence[Mapping[str, str]] = (),
    use: str = "",
) -> Start:
    """Where the plan of this foot starts.

    Args:
        measured: the hoof's measures in mm by ``HOOF_KEYS``; None or absent unmeasured.
        out_mm: by place, how far the wall stands outside the sound line, where that was
            read anew; None keeps what the last plan says.
        last_plan: the document of the plan before, if any.
        last_shoe: fields of the shoe last fitted, by the names of ``horses.entries``.
        findings, use: as the document has them.
    """
    known = {key: measured[key] for key in HOOF_KEYS if measured.get(key) is not None}
    if last_plan is not None:
        document = deepcopy(dict(last_plan))
        document["hoof"] |= known
        unmeasured: tuple[str, ...] = ()
    else:
        document = _usual(foot)
        if last_shoe is not None:
            _shod(document, last_shoe)
        document["hoof"] |= known
        unmeasured = tuple(key for key in HOOF_KEYS if key not in known)
    if out_mm is not None:
        document["hoof"]["out_mm"] = dict(out_mm)
    _place_widest(document, foot)
    document |= {"foot": foot, "findings": [dict(seen) for seen in findings]}
    document.pop("use", None)
    if use:
        document["use"] = use
    return Start(document, unmeasured)


def _place_widest(document: dict[str, Any], foot: Foot) -> None:
    """Widest part and last nails where nobody said them, or where a new length has
    left them behind the foot."""
    hoof, nails = document["hoof"], document["shoe"]["nails"]
    share = hoof.get("widest_from_toe_mm", 0.0) / hoof["length_mm"]
    if not LEAST_WIDEST_SHARE < share < MOST_WIDEST_SHARE:
        usual = hoof["length_mm"] * USUAL_WIDEST_SHARE[foot.endswith("H")]
        hoof["widest_from_toe_mm"] = float(round(usual))
    last = nails.setdefault("last_nail_from_toe_mm", {})
    for side in ("medial", "lateral"):
        if not 0 < last.get(side, 0.0) < hoof["length_mm"]:
            last[side] = float(round(hoof["widest_from_toe_mm"] * USUAL_NAIL_SHARE))

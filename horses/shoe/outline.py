"""The outlines seen from the ground: sound foot, wall as it is, steel. Pure.

Coordinates in mm: x across, lateral positive, medial negative; y back from the sound
foot's toe along the midline. Every edge is the sound foot's line moved along its own
normals, so that a value said at a place holds there exactly.
"""

from dataclasses import dataclass
from math import pi

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from horses.shoe.places import Line, Run, edge_amounts, run_of
from horses.shoe.plan import FootPlan, Hoof, Side

HEEL_SHARE = {False: 0.88, True: 0.82}
"""Spread of the buttresses as a share of the width, by 'is hind': ours; edit here."""

TOE_POINT = {False: 0.0, True: 0.08}
"""How much narrower than a half-ellipse the toe is, by 'is hind': a fore's is one, a
hind's is more pointed. Ours."""

TOE_STEPS, REAR_STEPS = 40, 24
FAR = 1e4


@dataclass(frozen=True, slots=True)
class SoundLine:
    """One side of the sound foot's line from toe to behind the heel, x ≥ 0, with its
    outward normals."""

    x: Line
    y: Line
    normal_x: Line
    normal_y: Line

    def moved(self, outward: Line) -> tuple[Line, Line]:
        """The line moved along its normals by so many mm at each point."""
        return self.x + self.normal_x * outward, self.y + self.normal_y * outward


def sound_line(hoof: Hoof, behind_mm: float) -> SoundLine:
    """The lateral side of the sound foot; straight on for ``behind_mm`` past the heel.

    To the widest part a half-ellipse (a hind's more pointed), then a curve to the
    heel buttress that leaves the widest part without a corner.
    """
    half, widest = hoof.width_mm / 2, hoof.widest_from_toe_mm
    point, share = TOE_POINT[hoof.is_hind], HEEL_SHARE[hoof.is_hind]
    t = np.linspace(0, pi / 2, TOE_STEPS)
    x_toe = half * np.sin(t) * (1 - point * np.cos(t) ** 2)
    y_toe = widest * (1 - np.cos(t))
    dx_toe = half * (
        np.cos(t) * (1 - point * np.cos(t) ** 2)
        + 2 * point * np.sin(t) ** 2 * np.cos(t)
    )
    dy_toe = widest * np.sin(t)
    rear = hoof.length_mm - widest
    g = np.linspace(0, 1, REAR_STEPS)[1:]
    x_rear = half * (1 - (1 - share) * g**2)
    slope = -2 * half * (1 - share) * g / rear
    past = np.array([behind_mm])
    x = np.concatenate((x_toe, x_rear, x_rear[-1] + slope[-1] * past))
    y = np.concatenate((y_toe, widest + rear * g, hoof.length_mm + past))
    dx = np.concatenate((dx_toe, slope, slope[-1:]))
    dy = np.concatenate((dy_toe, np.ones(len(slope) + 1)))
    size = np.hypot(dx, dy)
    return SoundLine(x, y, dy / size, -dx / size)


@dataclass(frozen=True, slots=True)
class BranchOutline:
    """One branch: points as (n, 2) arrays from toe to heel, the steel as a polygon."""

    sound: Line
    wall: Line
    outer: Line
    inner: Line
    centre: BaseGeometry
    steel: BaseGeometry
    widths: Line
    """Web at each point of ``outer``."""

    @property
    def centre_line_mm(self) -> float:
        return float(self.centre.length)

    @property
    def area_mm2(self) -> float:
        return float(self.steel.area)


def _points(x: Line, y: Line, sign: int) -> Line:
    return np.column_stack((x * sign, y))


def _side_box(sign: int, end: float) -> BaseGeometry:
    """All that lies on this side of the midline and ahead of the cut heel."""
    left, right = (0.0, FAR) if sign > 0 else (-FAR, 0.0)
    return shapely.box(left, -FAR, right, end)


def _sound_as_far(line: SoundLine, moved: tuple[Line, Line], sign: int) -> Line:
    """The points down to the buttress: the last one lies behind it."""
    return _points(moved[0][:-1], moved[1][:-1], sign)


def branch_outline(plan: FootPlan, side: Side) -> BranchOutline:
    """The edges and the steel of one branch, the heel cut square to the midline."""
    branch = plan.shoe.branch(side)
    section = plan.shoe.section
    sign = 1 if side == "lateral" else -1
    end = plan.hoof.length_mm + branch.heel_past_buttress_mm
    # Far enough behind that the inner edge, which lies ahead, reaches the cut too.
    behind = max(branch.heel_past_buttress_mm, 0) + plan.hoof.length_mm
    line = sound_line(plan.hoof, behind)
    out = run_of(plan, side, plan.hoof.out_mm).at(line.y)
    edge = run_of(plan, side, *edge_amounts(plan)).at(line.y)
    web = section.width_mm + _web_change(plan, side).at(line.y)
    outer, inner = line.moved(edge), line.moved(edge - web)
    box = _side_box(sign, end)
    centre = shapely.LineString(_points(*line.moved(edge - web / 2), sign))
    ring = np.concatenate((_points(*outer, sign), _points(*inner, sign)[::-1]))
    steel: BaseGeometry = shapely.Polygon(ring)
    if not steel.is_valid:
        steel = shapely.make_valid(steel)
    return BranchOutline(
        sound=_sound_as_far(line, (line.x, line.y), sign),
        wall=_sound_as_far(line, line.moved(out), sign),
        outer=_points(*outer, sign),
        inner=_points(*inner, sign),
        centre=shapely.intersection(centre, box),
        steel=shapely.intersection(steel, box),
        widths=web,
    )


def _web_change(plan: FootPlan, side: Side) -> Run:
    return run_of(plan, side, plan.shoe.web_change_mm)


def nail_places(plan: FootPlan, side: Side) -> tuple[tuple[float, float], ...]:
    """Where the nails of a branch go in, (x, y) from the toe: evenly from a third of
    the way to the last nail, over the white line (the inner edge of the sound wall),
    but never outside the middle half of the web.
    """
    branch = plan.shoe.branch(side)
    if not branch.nails:
        return ()
    sign = 1 if side == "lateral" else -1
    last = branch.last_nail_from_toe_mm
    along = (
        np.linspace(last / 3, last, branch.nails)
        if branch.nails > 1
        else np.array([last])
    )
    line = sound_line(plan.hoof, 1.0)
    edge = run_of(plan, side, *edge_amounts(plan)).at(along)
    web = plan.shoe.section.width_mm + _web_change(plan, side).at(along)
    inward = np.clip(-plan.hoof.sound_wall_mm, edge - 0.75 * web, edge - 0.25 * web)
    x, y, nx, ny = (
        np.interp(along, line.y, values)
        for values in (line.x, line.y, line.normal_x, line.normal_y)
    )
    placed = _points(x + nx * inward, y + ny * inward, sign)
    return tuple((float(px), float(py)) for px, py in placed)


def mean_area_mm2(branch: BranchOutline, areas: Line) -> float:
    """The mean of section areas (one at each point of ``outer``) along the branch, as
    far as the steel goes."""
    steps = np.hypot(*np.diff((branch.outer + branch.inner) / 2, axis=0).T)
    middle_y = (branch.outer[:, 1] + branch.inner[:, 1]) / 2
    reach = branch.centre.bounds[3] if not branch.centre.is_empty else 0.0
    span = np.diff(middle_y)
    inside = np.clip((reach - middle_y[:-1]) / np.where(span > 0, span, 1), 0, 1)
    weights = steps * np.where(span > 0, inside, middle_y[:-1] <= reach)
    start, stop = areas[:-1], areas[:-1] + (areas[1:] - areas[:-1]) * inside
    total = float(weights.sum())
    if total <= 0:
        return float(areas[0])
    return float((weights * (start + stop) / 2).sum() / total)

"""A photo with its marks, read: figures beside what the foot record says."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal

from horses.entries import MEASURES, FootEntry
from horses.hoof import Figure
from horses.landmarks.cautions import Caution
from horses.landmarks.reading import SHOWN_PX, Marked, Reading, read, recorded
from horses.landmarks.spots import LABELS, LINES, SCALE_LINE, Point, Spot, View, spots
from horses.models import Photo
from horses.selectors.records import entry_of


@dataclass(frozen=True, slots=True)
class FigureRow:
    """A figure of the marks and what stands in the record. ``stands``: as the record
    keeps it, None where it says nothing or has no such measurement.
    """

    figure: Figure
    label: str
    is_length: bool
    is_kept: bool
    stands: Decimal | None
    is_ticked: bool

    @property
    def name(self) -> str:
        return self.figure.name

    @property
    def is_same(self) -> bool:
        """Whether the record says what the marks say."""
        return self.is_kept and self.stands == recorded(self.figure.value)


@dataclass(frozen=True, slots=True)
class Figures:
    """What the marks of a photo come to, ready to show."""

    rows: tuple[FigureRow, ...]
    cautions: tuple[Caution, ...]

    @property
    def has_kept(self) -> bool:
        """Whether anything could go into the record."""
        return any(row.is_kept and not row.is_same for row in self.rows)


def points_of(photo: Photo) -> dict[str, tuple[Decimal, Decimal]]:
    """The marks as kept, fractions by name. No query where they were prefetched."""
    return {mark.name: (mark.x, mark.y) for mark in photo.landmarks.all()}


def marked(
    photo: Photo,
    points: Mapping[str, tuple[Decimal, Decimal]],
    known_mm: Decimal | None,
) -> Marked:
    """The photo with these marks, for ``horses.landmarks``."""
    places: dict[str, Point] = {n: (float(x), float(y)) for n, (x, y) in points.items()}
    return Marked(
        view=photo.view,  # type: ignore[arg-type]  # read() refuses another
        width_px=photo.width_px,
        height_px=photo.height_px,
        points=places,
        known_mm=None if known_mm is None else float(known_mm),
        foot=photo.foot or None,  # type: ignore[arg-type]  # one of the field's choices
    )


def foot_entry(photo: Photo) -> FootEntry | None:
    """What the photo's record says of its foot: four queries where nothing was
    fetched; None where it says nothing.
    """
    feet = entry_of(photo.record).feet
    return next((foot for foot in feet if foot.foot == photo.foot), None)


def figures_of(
    photo: Photo,
    points: Mapping[str, tuple[Decimal, Decimal]],
    known_mm: Decimal | None,
    *,
    ticked: Collection[str] = (),
    offered: Collection[str] = (),
) -> Figures:
    """The figures of these marks, beside the record.

    A figure is ticked as the viewer left it (``ticked`` of those ``offered``); one not
    offered before is ticked where the record has nothing yet.

    Raises:
        BadMarks: marks or scale can't be.
    """
    reading: Reading = read(marked(photo, points, known_mm))
    entry = foot_entry(photo)
    rows = []
    for figure in reading.figures:
        is_kept = figure.name in MEASURES
        stands = getattr(entry, figure.name) if entry and is_kept else None
        was_offered = figure.name in offered
        rows.append(
            FigureRow(
                figure=figure,
                label=LABELS[figure.name],
                is_length=figure.name.endswith("_mm"),
                is_kept=is_kept,
                stands=stands,
                is_ticked=figure.name in ticked
                if was_offered
                else is_kept and stands is None,
            )
        )
    return Figures(tuple(rows), reading.cautions)


# ---- The picture -----------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class PlacedSpot:
    """A landmark on the picture, in its pixels; ``at`` is None until it is marked."""

    number: int
    spot: Spot
    at: tuple[Decimal, Decimal] | None
    start: tuple[int, int]


@dataclass(frozen=True, slots=True)
class BoardLine:
    """A line between two landmarks; ``ends`` is None until both are marked."""

    one: str
    other: str
    kind: str
    ends: tuple[Decimal, Decimal, Decimal, Decimal] | None


@dataclass(frozen=True, slots=True)
class Board:
    """What is drawn over a photo. ``px``: picture pixels in one as shown."""

    spots: tuple[PlacedSpot, ...]
    lines: tuple[BoardLine, ...]
    px: float

    @property
    def placed(self) -> int:
        """How many landmarks are marked."""
        return sum(spot.at is not None for spot in self.spots)


def _kind(one: str, other: str) -> str:
    if (one, other) == SCALE_LINE:
        return "scale"
    return "ground" if one.startswith("ground") else "foot"


def board_of(photo: Photo, points: Mapping[str, tuple[Decimal, Decimal]]) -> Board:
    """The landmarks and lines of the photo's view, with these marks. No query."""
    at = {
        name: (x * photo.width_px, y * photo.height_px)
        for name, (x, y) in points.items()
    }
    view: View = photo.view  # type: ignore[assignment]  # one with landmarks
    placed = tuple(
        PlacedSpot(
            number,
            spot,
            at.get(spot.name),
            (
                round(spot.start[0] * photo.width_px),
                round(spot.start[1] * photo.height_px),
            ),
        )
        for number, spot in enumerate(spots(view), 1)
    )
    lines = tuple(
        BoardLine(
            one,
            other,
            _kind(one, other),
            (*at[one], *at[other]) if one in at and other in at else None,
        )
        for one, other in (*LINES[view], SCALE_LINE)
    )
    return Board(placed, lines, max(photo.width_px, photo.height_px) / SHOWN_PX)

"""Drives from one point, packed for a database row: 16 bytes a drive, compressed.

Points are whole hundred-thousandths of a degree (about a metre), which is what makes
two askings of one barn the same. A drive that the source could not find is kept as
unknown, so that it is not asked for again and again.
"""

import zlib
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from practice.geo import Position

_CELL: Final = np.dtype(
    [("lat", "<i4"), ("lon", "<i4"), ("seconds", "<u4"), ("metres", "<u4")]
)
_UNKNOWN: Final = 0xFFFFFFFF

Cells = NDArray[np.void]


def key_of(point: Position) -> tuple[int, int]:
    """Latitude and longitude in hundred-thousandths of a degree."""
    return round(point.lat * 100_000), round(point.lon * 100_000)


def cells_to(
    points: Sequence[Position],
    seconds: NDArray[np.float64],
    metres: NDArray[np.float64],
) -> Cells:
    """Drives to these points; NaN where it is not known."""
    cells = np.zeros(len(points), dtype=_CELL)
    cells["lat"] = [round(point.lat * 100_000) for point in points]
    cells["lon"] = [round(point.lon * 100_000) for point in points]
    cells["seconds"] = _whole(seconds)
    cells["metres"] = _whole(metres)
    return cells


def _whole(values: NDArray[np.float64]) -> NDArray[np.uint32]:
    known = np.where(np.isnan(values), _UNKNOWN, np.rint(np.nan_to_num(values)))
    return np.minimum(known, _UNKNOWN).astype(np.uint32)


def pack(cells: Cells) -> bytes:
    """The cells as bytes."""
    return zlib.compress(cells.tobytes())


def unpack(packed: bytes) -> Cells:
    """The cells out of bytes."""
    return np.frombuffer(zlib.decompress(packed), dtype=_CELL)


def merged(kept: Cells, fresh: Cells) -> Cells:
    """Both, the fresh ones where a point is in both."""
    both = np.concatenate([fresh, kept])
    _, first = np.unique(_joined(both), return_index=True)
    result: Cells = both[first]
    return result


def looked_up(
    cells: Cells, keys: Sequence[tuple[int, int]]
) -> tuple[NDArray[np.bool_], NDArray[np.float64], NDArray[np.float64]]:
    """For each of the points: whether it was ever asked for, seconds and metres (NaN
    where it was and nobody knows)."""
    wanted = np.array([_one(lat, lon) for lat, lon in keys], dtype=np.int64)
    asked = np.zeros(len(keys), dtype=bool)
    seconds = np.full(len(keys), np.nan)
    metres = np.full(len(keys), np.nan)
    if not len(cells):
        return asked, seconds, metres
    have = _joined(cells)
    order = np.argsort(have)
    at = np.minimum(np.searchsorted(have, wanted, sorter=order), len(have) - 1)
    found = order[at]
    asked = have[found] == wanted
    for out, name in ((seconds, "seconds"), (metres, "metres")):
        values = cells[name][found]
        known = asked & (values != _UNKNOWN)
        out[known] = values[known]
    return asked, seconds, metres


def _joined(cells: Cells) -> NDArray[np.int64]:
    lat = cells["lat"].astype(np.int64)
    result: NDArray[np.int64] = (lat << 32) + cells["lon"].astype(np.int64)
    return result


def _one(lat: int, lon: int) -> int:
    return (lat << 32) + lon

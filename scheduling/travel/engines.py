"""Asking a road engine for drives: OSRM's `table`, Valhalla's `sources_to_targets`.

The address is the operator's alone (the environment); nothing that a user types gets
into it but coordinates, and no redirect is followed, so that the engine can't send us
elsewhere. Whatever comes back is checked cell by cell: a cell that is no sensible
drive counts as not known. Anything else that goes wrong is one `EngineError`, after
which the caller goes on with the estimate.

OSRM: GET {base}/table/v1/driving/{lon},{lat};…?annotations=duration,distance, seconds
and metres, null where there is no road (project-osrm.org, HTTP API). Valhalla: POST
{base}/sources_to_targets, seconds and kilometres, null where there is no road
(valhalla.github.io, Matrix API). Their usual limits: 100 points in an OSRM table, 2,500
pairs in a Valhalla matrix: hence BLOCK.
"""

import http.client
import json
import math
import urllib.error
import urllib.request
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import urlsplit

import numpy as np
from numpy.typing import NDArray

from practice.geo import Position

KINDS: Final = ("osrm", "valhalla")
BLOCK: Final = 50
"""So many sources and so many destinations in one question."""
SECONDS_TO_WAIT: Final = 20.0
MOST_BYTES: Final = 8 * 1024 * 1024
"""No answer of 2,500 pairs is a tenth of this."""
LONGEST_DRIVE_SECONDS: Final = 3 * 24 * 3600
LONGEST_DRIVE_METRES: Final = 6_000_000

Known = tuple[NDArray[np.float64], NDArray[np.float64]]
"""Seconds and metres, sources by destinations, NaN where not known."""


class EngineError(Exception):
    """The engine gave no usable answer; the message says what happened."""


@dataclass(frozen=True, slots=True)
class Engine:
    """Which engine at which address. `base` is http(s) without query."""

    kind: str
    base: str
    wait_seconds: float = SECONDS_TO_WAIT

    def __post_init__(self) -> None:
        parts = urlsplit(self.base)
        if self.kind not in KINDS:
            raise ValueError(f"The road engine is one of {', '.join(KINDS)}.")
        if parts.scheme not in ("http", "https") or not parts.hostname:
            raise ValueError(
                "The road engine's address begins with http:// or https://."
            )
        if parts.query or parts.fragment or parts.username:
            raise ValueError("The road engine's address ends after its path.")

    def drives(
        self, sources: Sequence[Position], destinations: Sequence[Position]
    ) -> Known:
        """Drives from each source to each destination, in one question.

        Raises:
            EngineError: no answer in time, refused, or not what an engine says.
        """
        ask = _ask_osrm if self.kind == "osrm" else _ask_valhalla
        return ask(self, sources, destinations)


def in_blocks(
    engine: Engine,
    sources: Sequence[Position],
    destinations: Sequence[Position],
    *,
    go_on: Callable[[], bool] = lambda: True,
) -> tuple[Known, str]:
    """Drives in blocks that engines answer; what failed stays NaN.

    After the first block that fails nothing more is asked: an engine that is away would
    cost the waiting time for each block.

    Returns:
        the drives, and what went wrong ('' when nothing did).
    """
    seconds = np.full((len(sources), len(destinations)), np.nan)
    metres = np.full((len(sources), len(destinations)), np.nan)
    for row in range(0, len(sources), BLOCK):
        for column in range(0, len(destinations), BLOCK):
            if not go_on():
                return (seconds, metres), "it was stopped"
            part = np.s_[row : row + BLOCK, column : column + BLOCK]
            try:
                seconds[part], metres[part] = engine.drives(
                    sources[row : row + BLOCK], destinations[column : column + BLOCK]
                )
            except EngineError as error:
                return (seconds, metres), str(error)
    return (seconds, metres), ""


# --- the two engines ------------------------------------------------------------------


def _ask_osrm(
    engine: Engine, sources: Sequence[Position], destinations: Sequence[Position]
) -> Known:
    points = ";".join(f"{p.lon:.5f},{p.lat:.5f}" for p in (*sources, *destinations))
    n, m = len(sources), len(destinations)
    first = ";".join(str(i) for i in range(n))
    last = ";".join(str(i) for i in range(n, n + m))
    answer = _answer(
        engine,
        f"/table/v1/driving/{points}?annotations=duration,distance"
        f"&sources={first}&destinations={last}",
    )
    if answer.get("code") != "Ok":
        raise EngineError(f"the engine said {str(answer.get('code'))[:60]}")
    seconds = _cells(answer.get("durations"), n, m, LONGEST_DRIVE_SECONDS)
    distances = answer.get("distances")  # engines before 5.21 know none
    if distances is None:
        return seconds, np.full((n, m), np.nan)
    return seconds, _cells(distances, n, m, LONGEST_DRIVE_METRES)


def _ask_valhalla(
    engine: Engine, sources: Sequence[Position], destinations: Sequence[Position]
) -> Known:
    n, m = len(sources), len(destinations)
    question = {
        "sources": [_lat_lon(point) for point in sources],
        "targets": [_lat_lon(point) for point in destinations],
        "costing": "auto",
        "units": "kilometers",
    }
    answer = _answer(engine, "/sources_to_targets", question)
    table = answer.get("sources_to_targets")
    if isinstance(table, dict):  # the short form of newer ones
        times, ways = table.get("durations"), table.get("distances")
    elif isinstance(table, list):
        times, ways = _column(table, "time"), _column(table, "distance")
    else:
        raise EngineError("the engine's answer holds no table")
    kilometres = _cells(ways, n, m, LONGEST_DRIVE_METRES / 1000)
    return _cells(times, n, m, LONGEST_DRIVE_SECONDS), kilometres * 1000


def _lat_lon(point: Position) -> dict[str, float]:
    return {"lat": round(point.lat, 5), "lon": round(point.lon, 5)}


def _column(table: list[Any], name: str) -> list[list[Any]]:
    try:
        return [[cell.get(name) for cell in row] for row in table]
    except (AttributeError, TypeError) as error:
        raise EngineError("the engine's table is not one of drives") from error


def _cells(table: Any, n: int, m: int, most: float) -> NDArray[np.float64]:
    """The table as numbers: NaN for null, and for what no drive can be."""
    if not isinstance(table, list) or len(table) != n:
        raise EngineError(f"the engine's table has not {n} rows")
    values = np.full((n, m), np.nan)
    for i, row in enumerate(table):
        if not isinstance(row, list) or len(row) != m:
            raise EngineError(f"the engine's table has not {m} columns")
        for j, cell in enumerate(row):
            if isinstance(cell, int | float) and not isinstance(cell, bool):
                value = float(cell)
                if math.isfinite(value) and 0 <= value <= most:
                    values[i, j] = value
    return values


# --- the wire ---------------------------------------------------------------------------


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_: Any, **__: Any) -> None:
        return None


def _answer(engine: Engine, path: str, question: Any = None) -> dict[str, Any]:
    # Straight there: no proxy of the surroundings, no redirect.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}), _NoRedirect)
    request = urllib.request.Request(  # noqa: S310  # the scheme is checked above
        engine.base.rstrip("/") + path,
        data=None if question is None else json.dumps(question).encode(),
        headers={"Content-Type": "application/json", "Accept": "application/json"},
    )
    try:
        with opener.open(request, timeout=engine.wait_seconds) as response:
            body = response.read(MOST_BYTES + 1)
    except urllib.error.HTTPError as error:
        raise EngineError(f"the engine answered {error.code}") from error
    except (OSError, http.client.HTTPException, ValueError) as error:
        raise EngineError(f"the engine was not reached ({_why(error)})") from error
    if len(body) > MOST_BYTES:
        raise EngineError("the engine's answer is far too long")
    try:
        answer = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise EngineError("the engine's answer is no JSON") from error
    if not isinstance(answer, dict):
        raise EngineError("the engine's answer is no JSON object")
    return answer


def _why(error: BaseException) -> str:
    reason = getattr(error, "reason", error)
    if isinstance(reason, TimeoutError):
        return "it took too long"
    return str(getattr(reason, "strerror", "") or type(reason).__name__)[:80]

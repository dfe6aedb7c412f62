"""Places on the Earth: reading a position, distance, bearing, a rough drive.

Positions are WGS 84 latitude and longitude in degrees, north and east positive.
A position can be typed as decimals (`55.5985, -2.7213`), with letters
(`55.5985 N 2.7213 W`), in degrees, minutes and seconds, as a `geo:` address
(RFC 5870) or as an Open Location Code ("plus code").

Open Location Code: our own reading of its open specification (google/
open-location-code, Documentation/Specification/specification.md, Apache-2.0).
A code of up to ten digits is pairs in base 20, the first pair counting 20 degrees;
further digits split the cell by a grid of 4 columns and 5 rows. All of it is reckoned
in whole numbers of the smallest cell, because 80.01 has no exact binary fraction.
"""

import math
import re
from dataclasses import dataclass

EARTH_RADIUS_METRES = 6_371_000
"""Mean radius. A sphere is wrong by up to about 0.5 % against the ellipsoid, far
less than what the estimate of the road's detour is wrong by."""

METRES_PER_DEGREE = math.radians(EARTH_RADIUS_METRES)
"""Of latitude, and of longitude at the equator."""

CIRCUITY = 1.3
"""Road length over great-circle length. Ours: printed means lie from about 1.2 (US,
countries of the plain) to 1.4 and more (England, islands, mountains); it is meant
to be learnt from confirmed drives later."""

SPEED_CLASSES: tuple[tuple[int, int], ...] = ((5_000, 40), (20_000, 60), (0, 80))
"""(up to so many road metres, km/h), the last without end. Ours: lanes and villages
first, country roads next, main roads for the rest."""

START_AND_STOP_MINUTES = 1.0
"""Gate, yard, turning round: on each drive that goes anywhere. Ours."""

_WINDS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


class BadPosition(ValueError):
    """The text is no position; the message says what mends it."""


@dataclass(frozen=True, slots=True)
class Position:
    """Latitude and longitude in degrees (WGS 84), north and east positive.

    Raises BadPosition outside ±90 and ±180.
    """

    lat: float
    lon: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.lat) and math.isfinite(self.lon)):
            raise BadPosition("A position needs two numbers: latitude, longitude.")
        if not -90 <= self.lat <= 90:
            raise BadPosition(
                f"The latitude {self.lat:g} lies outside −90 to 90: "
                "give latitude first, then longitude."
            )
        if not -180 <= self.lon <= 180:
            raise BadPosition(f"The longitude {self.lon:g} lies outside −180 to 180.")

    def __str__(self) -> str:
        return f"{self.lat:.5f}, {self.lon:.5f}"


@dataclass(frozen=True, slots=True)
class CodeArea:
    """The cell that an Open Location Code names: its edges in degrees, its digits."""

    south: float
    west: float
    north: float
    east: float
    digits: int

    @property
    def centre(self) -> Position:
        """The middle of the cell."""
        return Position((self.south + self.north) / 2, (self.west + self.east) / 2)


@dataclass(frozen=True, slots=True)
class Drive:
    """An estimated drive: road metres and whole minutes (rounded up)."""

    metres: int
    minutes: int


# --- distance, bearing, drive ------------------------------------------------------


def distance_metres(a: Position, b: Position) -> float:
    """Great-circle distance in metres on a sphere of the mean radius (haversine)."""
    lat_a, lat_b = math.radians(a.lat), math.radians(b.lat)
    d_lat, d_lon = lat_b - lat_a, math.radians(b.lon - a.lon)
    h = (
        math.sin(d_lat / 2) ** 2
        + math.cos(lat_a) * math.cos(lat_b) * math.sin(d_lon / 2) ** 2
    )
    return 2 * EARTH_RADIUS_METRES * math.asin(min(1.0, math.sqrt(h)))


def bearing_degrees(a: Position, b: Position) -> float:
    """Initial bearing of the great circle from a to b: degrees from north, clockwise,
    in [0, 360)."""
    lat_a, lat_b = math.radians(a.lat), math.radians(b.lat)
    d_lon = math.radians(b.lon - a.lon)
    east = math.sin(d_lon) * math.cos(lat_b)
    north = math.cos(lat_a) * math.sin(lat_b) - (
        math.sin(lat_a) * math.cos(lat_b) * math.cos(d_lon)
    )
    return math.degrees(math.atan2(east, north)) % 360.0


def way(a: Position, b: Position) -> tuple[float, str]:
    """Straight metres from a to b, and the wind (N, NE …) that b lies at."""
    return distance_metres(a, b), _WINDS[round(bearing_degrees(a, b) / 45) % 8]


def road_minutes(road_metres: float) -> float:
    """Minutes at the wheel for so many road metres, by the speed classes."""
    minutes, done = 0.0, 0.0
    for upto, km_per_hour in SPEED_CLASSES:
        end = road_metres if upto == 0 else min(road_metres, upto)
        minutes += max(0.0, end - done) / 1000 / km_per_hour * 60
        done = max(done, end)
    return minutes


def drive_estimate(
    a: Position, b: Position, *, circuity: float = CIRCUITY, speed_factor: float = 1.0
) -> Drive:
    """A rough drive from a to b without a road map.

    Great circle × circuity for the metres, the speed classes and a minute for gate
    and yard for the time; speed_factor multiplies the time (1.1: slower roads by a
    tenth). Nothing within 25 m is a drive. Symmetric, and it keeps the triangle
    inequality, since time is concave in distance.
    """
    straight = distance_metres(a, b)
    if straight < 25:
        return Drive(0, 0)
    metres = straight * circuity
    minutes = START_AND_STOP_MINUTES + road_minutes(metres) * speed_factor
    return Drive(round(metres), math.ceil(round(minutes, 6)))


# --- Open Location Code --------------------------------------------------------------

_ALPHABET = "23456789CFGHJMPQRVWX"
_DIGITS = {sign: value for value, sign in enumerate(_ALPHABET)}
_SEPARATOR_AT = 8
_PAIR_DIGITS = 10
_MAX_DIGITS = 15
_GRID_COLUMNS, _GRID_ROWS = 4, 5
_LAT_PER_DEGREE = 8000 * _GRID_ROWS**5
_LON_PER_DEGREE = 8000 * _GRID_COLUMNS**5
_FULL = re.compile(
    rf"(?:[{_ALPHABET[:9]}][{_ALPHABET[:18]}]"
    rf"(?:0{{6}}\+|[{_ALPHABET}]{{2}}(?:0{{4}}\+|[{_ALPHABET}]{{2}}(?:00\+|"
    rf"[{_ALPHABET}]{{2}}\+(?:[{_ALPHABET}]{{2,}})?))))\Z"
)
_SHORT = re.compile(rf"[{_ALPHABET}]{{0,7}}\+(?:[{_ALPHABET}]{{2,}})?\Z")


def is_full_code(text: str) -> bool:
    """Whether text is a complete Open Location Code (padding allowed)."""
    return _FULL.match(text.upper()) is not None


def is_short_code(text: str) -> bool:
    """Whether text is a code with its first digits left off.

    Digits before the separator may be odd in number (the published validity cases
    allow it), but such a code can't be completed.
    """
    text = text.upper()
    return len(text) > 2 and _SHORT.match(text) is not None


def decode_plus_code(code: str) -> CodeArea:
    """The cell of a full Open Location Code; digits after the 15th say nothing.

    Raises BadPosition when it is no full code.
    """
    if not is_full_code(code):
        raise BadPosition(
            f"'{code}' is not a full plus code: it has eight signs before the '+', "
            "such as 9C7VH7XH+CF."
        )
    digits = code.upper().replace("+", "").rstrip("0")[:_MAX_DIGITS]
    lat = lon = 0
    lat_cell, lon_cell = 20 * _LAT_PER_DEGREE * 20, 20 * _LON_PER_DEGREE * 20
    for at in range(0, min(len(digits), _PAIR_DIGITS), 2):
        lat_cell, lon_cell = lat_cell // 20, lon_cell // 20
        lat += _DIGITS[digits[at]] * lat_cell
        lon += _DIGITS[digits[at + 1]] * lon_cell
    for sign in digits[_PAIR_DIGITS:]:
        lat_cell, lon_cell = lat_cell // _GRID_ROWS, lon_cell // _GRID_COLUMNS
        row, column = divmod(_DIGITS[sign], _GRID_COLUMNS)
        lat += row * lat_cell
        lon += column * lon_cell
    return CodeArea(
        south=lat / _LAT_PER_DEGREE - 90,
        west=lon / _LON_PER_DEGREE - 180,
        north=(lat + lat_cell) / _LAT_PER_DEGREE - 90,
        east=(lon + lon_cell) / _LON_PER_DEGREE - 180,
        digits=len(digits),
    )


def plus_code(at: Position, digits: int = 10) -> str:
    """The Open Location Code of a position: 2, 4, 6, 8, 10 or 11 to 15 digits."""
    if not (digits in (2, 4, 6, 8, 10) or 11 <= digits <= _MAX_DIGITS):
        raise ValueError("A plus code has 2, 4, 6, 8, 10 or 11 to 15 digits.")
    lat = round((at.lat + 90) * _LAT_PER_DEGREE, 6)
    lon = round((at.lon + 180) * _LON_PER_DEGREE, 6)
    lat_cells = min(max(math.floor(lat), 0), 180 * _LAT_PER_DEGREE - 1)
    lon_cells = math.floor(lon) % (360 * _LON_PER_DEGREE)
    signs = ""
    for _ in range(_MAX_DIGITS - _PAIR_DIGITS):
        lat_cells, row = divmod(lat_cells, _GRID_ROWS)
        lon_cells, column = divmod(lon_cells, _GRID_COLUMNS)
        signs = _ALPHABET[row * _GRID_COLUMNS + column] + signs
    for _ in range(_PAIR_DIGITS // 2):
        lat_cells, north = divmod(lat_cells, 20)
        lon_cells, east = divmod(lon_cells, 20)
        signs = _ALPHABET[north] + _ALPHABET[east] + signs
    signs = signs[:digits].ljust(_SEPARATOR_AT, "0")
    return f"{signs[:_SEPARATOR_AT]}+{signs[_SEPARATOR_AT:]}"


def recover_plus_code(short: str, near: Position) -> str:
    """The full code that a short one means near a place: the nearest match.

    Raises BadPosition when it is no short code with an even number of digits missing.
    """
    missing = _SEPARATOR_AT - short.find("+")
    if not is_short_code(short) or missing % 2:
        raise BadPosition(f"'{short}' is not a short plus code such as H7XH+CF.")
    prefix = plus_code(near).replace("+", "")[:missing]
    cell = 20.0 ** (2 - missing // 2)
    area = decode_plus_code(prefix + short.upper())
    centre_lat = (area.south + area.north) / 2
    centre_lon = (area.west + area.east) / 2
    if near.lat + cell / 2 < centre_lat and centre_lat - cell >= -90:
        centre_lat -= cell
    elif near.lat - cell / 2 > centre_lat and centre_lat + cell <= 90:
        centre_lat += cell
    if near.lon + cell / 2 < centre_lon:
        centre_lon -= cell
    elif near.lon - cell / 2 > centre_lon:
        centre_lon += cell
    centre_lon = (centre_lon + 180) % 360 - 180
    return plus_code(Position(centre_lat, centre_lon), area.digits)


# --- reading what people type -----------------------------------------------------------

_HELP = (
    "Give latitude and longitude such as '55.5985, -2.7213', degrees such as "
    "55°35'54.6\"N 2°43'16.7\"W, or a full plus code such as 9C7VH7XH+CF."
)
_TYPED_SIGNS = str.maketrans(
    {
        **dict.fromkeys("−–—", "-"),
        **dict.fromkeys("′’‘´`ʹ", "'"),
        **dict.fromkeys("″”“ʺ", '"'),
        **dict.fromkeys("º˚ᵒ", "°"),
        **dict.fromkeys("\u00a0\u2009\u202f\t\n()[]", " "),
    }
)
_LETTERS_FOR_MARKS = re.compile(
    r"(\d)\s*D(?:EG)?\s*(\d+(?:\.\d+)?)\s*M(?:IN)?\s*(?:(\d+(?:\.\d+)?)\s*S(?:EC)?\b)?"
)
_DECIMAL_COMMAS = re.compile(
    r"([NSEW+-]?\s*\d{1,3}),(\d{2,}\s*°?\s*[NSEW]?)\s*[;,\s]\s*"
    r"([NSEW+-]?\s*\d{1,3}),(\d{2,}\s*°?\s*[NSEW]?)\Z"
)
_LETTER_FIRST = re.compile(r"([NSEW])\s*([^NSEW]+?)[\s,;]*([NSEW])\s*([^NSEW]+)\Z")
_LETTER_LAST = re.compile(r"([^NSEW]+?)\s*([NSEW])[\s,;]*([^NSEW]+?)\s*([NSEW])\Z")
_ANGLE = re.compile(
    r"([+-]?)\s*(\d+(?:\.\d+)?)\s*°?"
    r"(?:\s*(\d+(?:\.\d+)?)\s*'?(?:\s*(\d+(?:\.\d+)?)\s*(?:\"|'')?)?)?\s*\Z"
)
_NUMBER = re.compile(r"[+-]?\s*\d+(?:\.\d+)?")
_CODE = re.compile(r"([A-Z0-9]{2,8}\+\w*)")


def parse_position(text: str, *, near: Position | None = None) -> Position:
    """The position that a person typed; the centre of the cell for a plus code.

    A short plus code (`H7XH+CF`, also with a place name behind it) needs `near`, a
    place within some 40 km. Raises BadPosition with a sentence that says the mend.
    """
    typed = " ".join(text.translate(_TYPED_SIGNS).upper().split())
    if not typed:
        raise BadPosition(_HELP)
    code = _CODE.match(typed)
    if code:
        return _from_code(code[1], near)
    if typed.startswith("GEO:"):
        typed = re.split(r"[;?]", typed[4:])[0]
        typed = ",".join(typed.split(",")[:2])
    typed = _LETTERS_FOR_MARKS.sub(_with_marks, typed)
    comma = _DECIMAL_COMMAS.match(typed)
    if comma and "." not in typed:
        typed = f"{comma[1]}.{comma[2]} {comma[3]}.{comma[4]}"
    first = _LETTER_FIRST.match(typed)
    last = _LETTER_LAST.match(typed)
    if first:
        return _from_lettered((first[1], first[2]), (first[3], first[4]))
    if last:
        return _from_lettered((last[2], last[1]), (last[4], last[3]))
    lat, lon = _halves(typed, text.strip())
    return Position(_angle(lat), _angle(lon))


def _from_code(code: str, near: Position | None) -> Position:
    if is_full_code(code):
        area = decode_plus_code(code)
        if area.digits < _SEPARATOR_AT:
            raise BadPosition(
                f"The plus code {code} names an area kilometres wide: "
                "give the one with at least eight signs before the '+'."
            )
        return area.centre
    if is_short_code(code) and near is None:
        raise BadPosition(
            f"The plus code {code} is a short one, true only near some town: "
            "give the full code, with eight signs before the '+'."
        )
    if near is None or not is_short_code(code):
        raise BadPosition(
            f"'{code}' is not a plus code: it uses only {_ALPHABET} and has eight "
            "signs before the '+' and two or three after it."
        )
    return decode_plus_code(recover_plus_code(code, near)).centre


def _with_marks(found: re.Match[str]) -> str:
    seconds = f'{found[3]}"' if found[3] else ""
    return f"{found[1]}°{found[2]}'{seconds}"


def _from_lettered(one: tuple[str, str], other: tuple[str, str]) -> Position:
    by_axis = {
        "lat" if letter in "NS" else "lon": letter for letter in (one[0], other[0])
    }
    if len(by_axis) != 2:
        raise BadPosition("Give one of N or S, and one of E or W. " + _HELP)
    degrees = {}
    for letter, angle in (one, other):
        if re.match(r"\s*[+-]", angle):
            raise BadPosition(
                f"'{angle.strip()} {letter}' has both a sign and a letter: "
                "leave one of them out."
            )
        value = _angle(angle)
        degrees[letter in "NS"] = -value if letter in "SW" else value
    return Position(degrees[True], degrees[False])


def _halves(typed: str, said: str) -> tuple[str, str]:
    for mark in (";", ","):
        lat, _, lon = typed.partition(mark)
        if typed.count(mark) == 1 and lat.strip() and lon.strip():
            return lat, lon
    numbers = list(_NUMBER.finditer(typed))
    if "," in typed or ";" in typed or len(numbers) not in (2, 4, 6):
        raise BadPosition(f"'{said}' is not a position. " + _HELP)
    middle = numbers[len(numbers) // 2].start()
    return typed[:middle], typed[middle:]


def _angle(text: str) -> float:
    """Degrees of one angle; minutes and seconds below 60, fractions only at the end."""
    found = _ANGLE.match(text.strip())
    if not found:
        raise BadPosition(f"'{text.strip()}' is not an angle. " + _HELP)
    sign, *parts = found.groups()
    given = [part for part in parts if part is not None]
    if any("." in part for part in given[:-1]):
        raise BadPosition(
            f"'{text.strip()}': only the last of degrees, minutes and seconds "
            "may have a fraction."
        )
    if any(float(part) >= 60 for part in given[1:]):
        raise BadPosition(f"'{text.strip()}': minutes and seconds stay below 60.")
    degrees = sum(float(part) / 60.0**power for power, part in enumerate(given))
    return -degrees if sign == "-" else degrees

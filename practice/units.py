"""Lengths, masses and distances as people write them. Pure.

Stored: millimetres, grams, kilograms for a horse, metres. Read and shown: in the
practice's units. The inch is 25.4 mm, the pound 453.592 37 g and the statute mile
1609.344 m exactly (international yard and pound agreement of 1959).
"""

import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Literal

System = Literal["metric", "imperial"]
LengthUnit = Literal["mm", "cm", "in"]

MM_PER_INCH = Fraction("25.4")
GRAMS_PER_POUND = Fraction("453.59237")
GRAMS_PER_OUNCE = GRAMS_PER_POUND / 16
METRES_PER_MILE = Fraction("1609.344")

BARE_LENGTH: dict[System, LengthUnit] = {"metric": "mm", "imperial": "in"}
"""The unit of a length written as a bare number."""

LONGEST = 40
"""Characters; a longer text is no measurement."""

_LENGTHS: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "in": MM_PER_INCH,
}
_LENGTH_WORDS = {
    "": "",
    "mm": "mm",
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
    "cm": "cm",
    "centimetre": "cm",
    "centimetres": "cm",
    "centimeter": "cm",
    "centimeters": "cm",
    "in": "in",
    "in.": "in",
    "ins": "in",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "''": "in",
}
_DISTANCES = {
    "km": Fraction(1000),
    "m": Fraction(1),
    "mi": METRES_PER_MILE,
    "mile": METRES_PER_MILE,
    "miles": METRES_PER_MILE,
}
_MASSES = {
    "g": Fraction(1),
    "kg": Fraction(1000),
    "oz": GRAMS_PER_OUNCE,
    "lb": GRAMS_PER_POUND,
    "lbs": GRAMS_PER_POUND,
}
_VULGAR = {
    "¼": " 1/4",
    "½": " 1/2",
    "¾": " 3/4",
    "⅛": " 1/8",
    "⅜": " 3/8",
    "⅝": " 5/8",
    "⅞": " 7/8",
}
_QUOTES = str.maketrans(
    {
        "″": '"',
        "”": '"',
        "“": '"',
        "′": "'",
        "’": "'",
        "⁄": "/",
        "\u00a0": " ",
        "\u202f": " ",
    }
)
_NUMBER = re.compile(
    r"""(?:
        (?P<whole>[0-9]{1,6})(?:\s+|\s*-\s*)(?P<over>[0-9]{1,3})/(?P<under>[0-9]{1,3})
      | (?P<top>[0-9]{1,3})/(?P<bottom>[0-9]{1,3})
      | (?P<plain>[0-9]{1,6}(?:[.,][0-9]{0,6})?|[.,][0-9]{1,6})
    )\s*(?P<unit>[a-zA-Z"'.]*)""",
    re.VERBOSE,
)


class BadMeasure(ValueError):
    """Text that is no measurement; the message is a sentence that says the mend."""


def _tidy(text: str) -> str:
    tidy = text.strip()
    if len(tidy) > LONGEST:
        raise BadMeasure("That is too long for a measurement.")
    for sign, fraction in _VULGAR.items():
        tidy = tidy.replace(sign, fraction)
    return tidy.translate(_QUOTES).strip()


def _value(match: re.Match[str]) -> Fraction:
    part = match.groupdict()
    if part["plain"] is not None:
        return Fraction(Decimal(part["plain"].replace(",", ".")))
    over, under = (
        (part["over"], part["under"])
        if part["whole"]
        else (part["top"], part["bottom"])
    )
    if int(under) == 0:
        raise BadMeasure("A fraction can't have nothing below the line.")
    return int(part["whole"] or 0) + Fraction(int(over), int(under))


def _one(text: str, *, example: str) -> tuple[Fraction, str]:
    tidy = _tidy(text)
    if tidy.startswith(("-", "−")):
        raise BadMeasure(f"A measurement can't be negative: write it like {example}.")
    match = _NUMBER.fullmatch(tidy)
    if match is None:
        raise BadMeasure(f"Write it like {example}.")
    return _value(match), match["unit"].lower()


def parse_length(text: str, system: System, *, bare: LengthUnit | None = None) -> float:
    """Millimetres from ``3 1/4 in``, ``3.25"``, ``3¼"``, ``83 mm``, ``8,3 cm`` or a
    bare number: mm or inches by ``system``, or the unit ``bare``.

    Raises BadMeasure. Neither a sign nor a unit other than these is taken.
    """
    example = "83 mm or 8.3 cm" if system == "metric" else '3 1/4 in or 3.25"'
    value, unit = _one(text, example=example)
    name = _LENGTH_WORDS.get(unit)
    if name is None:
        raise BadMeasure(f"Unknown unit ‘{unit}’: write it like {example}.")
    return float(value * _LENGTHS[name or bare or BARE_LENGTH[system]])


def parse_distance(text: str, system: System) -> float:
    """Metres from ``12 km``, ``7.5 mi``, ``800 m`` or a bare number of km or miles."""
    example = "12 km" if system == "metric" else "7.5 mi"
    value, unit = _one(text, example=example)
    scale = _DISTANCES.get(unit or ("km" if system == "metric" else "mi"))
    if scale is None:
        raise BadMeasure(f"Unknown unit ‘{unit}’: write it like {example}.")
    return float(value * scale)


def parse_mass(text: str, system: System) -> float:
    """Grams from ``362 g``, ``520 kg``, ``12.8 oz``, ``1 lb 3 oz`` or a bare number
    of kilograms or pounds.
    """
    example = "520 kg or 360 g" if system == "metric" else "1150 lb or 12.8 oz"
    tidy = _tidy(text).lower()
    both = re.fullmatch(r"(.+?)\s*(?:lbs?)[\s,]+(.+?)\s*oz", tidy)
    if both is not None:
        pounds, unit = _one(both[1], example=example)
        ounces, other = _one(both[2], example=example)
        if unit or other or ounces >= 16:
            raise BadMeasure(f"Write it like {example}.")
        return float(pounds * GRAMS_PER_POUND + ounces * GRAMS_PER_OUNCE)
    value, unit = _one(tidy, example=example)
    scale = _MASSES.get(unit or ("kg" if system == "metric" else "lb"))
    if scale is None:
        raise BadMeasure(f"Unknown unit ‘{unit}’: write it like {example}.")
    return float(value * scale)


def _rounded(value: Fraction, step: Fraction) -> Fraction:
    """To the nearest step, halves away from nought, as a rule is read."""
    steps = abs(value) / step
    whole = (2 * steps.numerator + steps.denominator) // (2 * steps.denominator)
    return whole * step if value >= 0 else -whole * step


def _decimal(value: Fraction, places: int) -> str:
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    step = Decimal(1).scaleb(-places)
    text = f"{exact.quantize(step, rounding=ROUND_HALF_UP):,f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text.replace("-", "−")


def format_inches(mm: float, *, parts: Literal[8, 16] = 16) -> str:
    """``3 1/4 in``: inches in eighths or sixteenths, the fraction in lowest terms."""
    inches = _rounded(Fraction(mm) / MM_PER_INCH, Fraction(1, parts))
    sign, inches = ("−" if inches < 0 else ""), abs(inches)
    whole, rest = divmod(inches, 1)
    fraction = f"{rest.numerator}/{rest.denominator}" if rest else ""
    number = " ".join(part for part in (f"{whole}" if whole else "", fraction) if part)
    return f"{sign}{number or '0'} in"


def format_length(
    mm: float,
    system: System,
    *,
    unit: LengthUnit | None = None,
    parts: Literal[8, 16] = 16,
) -> str:
    """A length for people: ``83 mm``, ``8.3 cm`` or ``3 1/4 in``.

    ``unit`` overrides the one that goes with ``system``; mm and cm show a tenth of a
    millimetre at most. What it gives, ``parse_length`` takes back.
    """
    chosen = unit or BARE_LENGTH[system]
    if chosen == "in":
        return format_inches(mm, parts=parts)
    if chosen == "cm":
        return f"{_decimal(Fraction(mm) / 10, 2)} cm"
    return f"{_decimal(Fraction(mm), 1)} mm"


def format_mass(grams: float, system: System) -> str:
    """A shoe's mass: ``362 g``, ``1.25 kg``, ``12.8 oz``, ``1 lb 3.2 oz``."""
    exact = Fraction(grams)
    if system == "metric":
        if abs(exact) < 1000:
            return f"{_decimal(exact, 0)} g"
        return f"{_decimal(exact / 1000, 2)} kg"
    ounces = _rounded(exact / GRAMS_PER_OUNCE, Fraction(1, 10))
    pounds, rest = divmod(ounces, 16)
    if not pounds:
        return f"{_decimal(rest, 1)} oz"
    return f"{pounds:,} lb" + (f" {_decimal(rest, 1)} oz" if rest else "")


def format_body_mass(kilograms: float, system: System) -> str:
    """A horse's mass: ``520 kg`` or ``1,146 lb``."""
    exact = Fraction(kilograms)
    if system == "metric":
        return f"{_decimal(exact, 0)} kg"
    return f"{_decimal(exact * 1000 / GRAMS_PER_POUND, 0)} lb"


def format_distance(metres: float, system: System) -> str:
    """``850 m``, ``12.4 km``, ``7.7 mi``."""
    exact = Fraction(metres)
    if system == "imperial":
        return f"{_decimal(exact / METRES_PER_MILE, 1)} mi"
    if abs(exact) < 1000:
        return f"{_decimal(exact, 0)} m"
    return f"{_decimal(exact / 1000, 1)} km"

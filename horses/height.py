"""A horse's height at the withers, in hands or centimetres. Pure.

A hand is four inches, an inch 25.4 mm (the international inch of 1959), and 15.2 is
fifteen hands and two inches, not fifteen and a fifth: a horse of 14.2 stands 147.3 cm.
"""

import re
from decimal import Decimal

MM_AN_INCH = Decimal("25.4")
INCHES_A_HAND = 4
_HANDS = re.compile(
    r"^(\d{1,2})(?:[.,]([0-3])(?:[.,]?5)?)?\s*(?:hh|h|hands?)?$", re.ASCII
)
_METRIC = re.compile(r"^(\d{1,4}(?:[.,]\d{1,2})?)\s*(cm|mm|m)?$", re.ASCII)
_IN_MM = {"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000)}
#: A bare figure up to this is hands, above it centimetres, above the second mm.
MOST_HANDS = 20
MOST_CM = 250


class BadHeight(ValueError):
    """Text that is no height; the message is a sentence that says the mend."""


def parse_height(text: str) -> int:
    """Millimetres from ``15.2``, ``15.2 hh``, ``157 cm``, ``157``, ``1.57 m``.

    Raises:
        BadHeight: it can't be read.
    """
    written = text.strip().lower()
    hands = _HANDS.match(written)
    if hands and int(hands[1]) <= MOST_HANDS:
        inches = int(hands[1]) * INCHES_A_HAND + Decimal(hands[2] or 0)
        if re.search(r"[.,][0-3][.,]?5", written):
            inches += Decimal("0.5")
        return round(inches * MM_AN_INCH)
    if found := _METRIC.match(written):
        figure = Decimal(found[1].replace(",", "."))
        unit = found[2] or ("cm" if figure <= MOST_CM else "mm")
        if not found[2] and figure <= MOST_HANDS:
            raise BadHeight(
                "In hands the figure after the point is inches, 0 to 3: 15.2 is fifteen "
                "hands two. Or write centimetres: 157 cm."
            )
        return round(figure * _IN_MM[unit])
    raise BadHeight("Write the height as hands (15.2) or as centimetres (157 cm).")


def format_hands(mm: int) -> str:
    """``15.2``: hands and whole inches, as a measuring stick is read."""
    inches = round(Decimal(mm) / MM_AN_INCH)
    return f"{inches // INCHES_A_HAND}.{inches % INCHES_A_HAND}"


def format_height(mm: int) -> str:
    """``157 cm (15.2 hh)``: both, since passports and people differ."""
    return f"{round(Decimal(mm) / 10)} cm ({format_hands(mm)} hh)"

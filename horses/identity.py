"""The numbers that tell one horse from all others: UELN and microchip. Pure.

UELN (Universal Equine Life Number): fifteen characters. Three digits for the country of
the database that first registered the foal (ISO 3166-1 numeric), three for the
database, nine for the animal within it, filled with zeros from the left; digits and
letters. Sources: ueln.net, 'Rules of attribution of the UELN'; the Scottish
government's minimum operating standards for passport issuers, annex 1. Some databases
use letters in the second group, so only the first is held to digits.

Microchip: fifteen decimal digits, shown by a reader of ISO 11785. ISO 11784 (1996)
keeps a country's or maker's code in ten bits and the animal's number in 38 bits, so
that the last twelve digits are at most 274 877 906 943. That 999 marks a test chip:
from memory.
"""

from practice.errors import Refused

#: The largest national number that 38 bits hold (ISO 11784).
LARGEST_CHIP_NUMBER = 2**38 - 1
_MADE_OF = set("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")


def parse_ueln(text: str) -> str:
    """A UELN as it is kept: fifteen capitals and digits, without spaces or hyphens.

    Raises:
        Refused: it can't be one; the sentence says why.
    """
    number = _squeezed(text)
    if not number:
        return ""
    if len(number) != 15:
        raise Refused(
            f"A UELN has 15 characters; this has {len(number)}. "
            "It is printed in the horse's passport.",
            field="ueln",
        )
    if not set(number) <= _MADE_OF:
        raise Refused("A UELN has only letters A to Z and digits.", field="ueln")
    if not number[:3].isdigit() or number[:3] == "000":
        raise Refused(
            "A UELN begins with three digits, the country's number (826 for the "
            "United Kingdom, 840 for the United States).",
            field="ueln",
        )
    return number


def parse_microchip(text: str) -> str:
    """A microchip's number as it is kept: fifteen digits.

    Raises:
        Refused: it can't be one; the sentence says why.
    """
    number = _squeezed(text)
    if not number:
        return ""
    if not (number.isascii() and number.isdigit()):
        raise Refused("A microchip's number has only digits.", field="microchip")
    if len(number) != 15:
        raise Refused(
            f"A microchip's number has 15 digits; this has {len(number)}. "
            "The reader shows it whole.",
            field="microchip",
        )
    if number[:3] == "999":
        raise Refused(
            "A number that begins with 999 is a test chip's. Read it again.",
            field="microchip",
        )
    if number[:3] == "000" or int(number[3:]) > LARGEST_CHIP_NUMBER:
        raise Refused(
            "No chip can carry this number. Compare it with the passport.",
            field="microchip",
        )
    return number


def spaced(number: str) -> str:
    """A number for reading aloud: three characters, then groups of four."""
    return " ".join(
        part for part in (number[:3], number[3:7], number[7:11], number[11:]) if part
    )


def _squeezed(text: str) -> str:
    return "".join(part for part in text.upper() if part not in " \t\u00a0\u202f-–.·")

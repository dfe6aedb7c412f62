"""Payment references: the RF creditor reference of a document, and what a bank's text
says of documents. Pure.

ISO 11649: ``RF``, two check digits by ISO/IEC 7064 mod 97-10, up to 21 letters and
digits. The published example is 539007547034 → RF18539007547034.
"""

import re
from collections.abc import Iterable

from stdnum.iso7064 import mod_97_10

MOST = 21
"""Characters that ISO 11649 leaves for the reference itself."""

_NOT_ALNUM = re.compile(r"[^0-9A-Za-z]")
# Banks break a reference into groups, and some glue it to the text beside it.
_RF = re.compile(r"RF[ ]?[0-9]{2}(?:[ ]?[0-9A-Za-z]){1,21}", re.IGNORECASE)


def body_of(number: str) -> str:
    """A document's number as a reference has it: letters and digits, capitals.

    Raises ValueError if nothing is left, or more than ISO 11649 has room for.
    """
    body = _NOT_ALNUM.sub("", number).upper()
    if not body or len(body) > MOST or not body.isascii():
        raise ValueError(f"{number!r} makes no reference of 1 to {MOST} characters.")
    return body


def rf_of(number: str) -> str:
    """The RF reference of a document: ``INV-00001`` → ``RF..INV00001``."""
    body = body_of(number)
    return f"RF{mod_97_10.calc_check_digits(body + 'RF')}{body}"


def is_rf(reference: str) -> bool:
    """Whether the check digits are right."""
    bare = reference.replace(" ", "").upper()
    if not re.fullmatch(r"RF[0-9]{2}[0-9A-Z]{1,21}", bare):
        return False
    return bool(mod_97_10.is_valid(bare[4:] + bare[:4]))


def rf_bodies(text: str) -> list[str]:
    """What the RF references in a text may refer to, check digits proven, in order.

    A reference may be broken by blanks and run into the next word, so each beginning
    whose check digits are right counts, the longest first: one in 97 is right by
    chance, so compare with the references that there are.
    """
    found: list[str] = []
    for hit in _RF.finditer(text):
        bare = hit[0].replace(" ", "").upper()
        found += [bare[4:end] for end in range(len(bare), 4, -1) if is_rf(bare[:end])]
    return list(dict.fromkeys(found))


def numbers_in(text: str, known: Iterable[str]) -> list[str]:
    """Those of the ``known`` document numbers that a text names, in their order.

    ``INV-00012`` is found as ``INV-00012``, ``inv 00012``, ``INV00012`` or ``INV-12``,
    never inside a longer number or word.
    """
    return [number for number in known if number and _named(number).search(text)]


def _named(number: str) -> re.Pattern[str]:
    parts = re.findall(r"[0-9]+|[A-Za-z]+", number)
    # Zeros in front are left out by hand; a number all of zeros keeps one.
    shaped = [
        f"0*{part.lstrip('0') or '0'}" if part.isdigit() else re.escape(part)
        for part in parts
    ]
    between = r"[ \-/.]{0,2}"
    return re.compile(
        rf"(?<![0-9A-Za-z]){between.join(shaped)}(?![0-9A-Za-z])", re.IGNORECASE
    )

"""Ways to pay that a phone can take: the transfer code (QR) and a payment link. Pure.

The code is that of EPC069-12, 'Quick Response Code: Guidelines to Enable Data Capture
for the Initiation of a SEPA Credit Transfer' (European Payments Council), version 002:
a bank's app fills its form from it. Everything is checked before it is drawn, since
the drawing library would take a wrong IBAN, a line feed that begins a new field, or
round an amount of three decimals without a word.
"""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from urllib.parse import quote, urlsplit

from billing import money, references

MOST_BYTES = 331
MOST_NAME, MOST_TEXT = 70, 140
MOST_AMOUNT = Decimal("999999999.99")
_PLACES = ("{number}", "{amount}", "{currency}")


class BadPayment(ValueError):
    """What a transfer code or a link can't say; the message names it."""


def compact(text: str) -> str:
    """Without blanks, in capitals: an IBAN, a BIC, an RF reference."""
    return "".join(text.split()).upper()


def transfer_code(
    *,
    name: str,
    iban: str,
    amount: Decimal,
    bic: str = "",
    reference: str = "",
    text: str = "",
) -> str:
    """The text of an EPC code over ``amount`` euros.

    ``reference``: an RF reference (ISO 11649); ``text``: words for the transfer, where
    there is no reference. Both together aren't allowed.

    Raises BadPayment for a name that is empty, too long or of several lines, an IBAN, BIC
    or RF reference that can't be, an amount outside 0.01–999999999.99 or with more
    than two decimals, and if all of it is longer than 331 bytes.
    """
    from stdnum import bic as bics  # slow to load, and seldom needed
    from stdnum import iban as ibans

    iban, bic, reference = compact(iban), compact(bic), compact(reference)
    _check_text("name", name, MOST_NAME)
    if not name.strip():
        raise BadPayment("A transfer code names who is paid.")
    _check_text("text", text, MOST_TEXT)
    if not ibans.is_valid(iban):
        raise BadPayment(f"The IBAN {iban[:34]} is not one: its signs don't fit.")
    if bic and not bics.is_valid(bic):
        raise BadPayment(f"{bic[:20]} is no BIC.")
    if reference and not references.is_rf(reference):
        raise BadPayment(f"{reference[:30]} is no RF reference.")
    if reference and text:
        raise BadPayment("Either a reference or a text, not both.")
    _check_amount(amount)
    said = "\n".join(
        (
            *("BCD", "002", "1", "SCT", bic, name.strip(), iban),
            *(f"EUR{amount:.2f}", "", reference, text.strip()),
        )
    ).rstrip("\n")
    if len(said.encode()) > MOST_BYTES:
        raise BadPayment(f"A transfer code has {MOST_BYTES} bytes at the most.")
    return said


def _check_text(what: str, text: str, most: int) -> None:
    if len(text) > most:
        raise BadPayment(f"The {what} has more than {most} characters.")
    if re.search(r"[\x00-\x1f\x7f\u0085\u2028\u2029]", text):
        raise BadPayment(f"The {what} is of several lines.")


def _check_amount(amount: Decimal) -> None:
    if not amount.is_finite() or amount != amount.quantize(Decimal("0.01")):
        raise BadPayment("An amount in euros has two decimals at the most.")
    if not 0 < amount <= MOST_AMOUNT:
        raise BadPayment(f"An amount lies between 0.01 and {MOST_AMOUNT}.")


def qr_svg(text: str) -> str:
    """A QR code (level M, version ≤ 13, a margin of four) as inline SVG.

    Raises BadPayment for more than there is room for.
    """
    import segno  # as above

    try:
        code = segno.make_qr(
            text, error="m", mode="byte", encoding="utf-8", boost_error=False
        )
    except segno.DataOverflowError as fault:
        raise BadPayment("Too much for a code that a phone reads.") from fault
    if int(code.version) > 13:
        raise BadPayment("Too much for a code that a phone reads.")
    svg: str = code.svg_inline(border=4, omitsize=True, svgclass="qr", lineclass=None)
    return svg


def grouped(iban: str) -> str:
    """In groups of four, as people read it (ISO 13616); an RF reference likewise."""
    return " ".join(iban[at : at + 4] for at in range(0, len(iban), 4))


def is_in_euros(payment: Mapping[str, Any], currency: str) -> bool:
    """Whether a transfer within Europe pays it: ``payment`` as in a snapshot."""
    return bool(payment["iban"]) and currency == "EUR"


def check_link(template: str) -> str:
    """A payment link as the practice gave it, tidied.

    ``{number}``, ``{amount}`` and ``{currency}`` may stand in its path or query.
    Raises BadPayment unless it is an https address of a named host.
    """
    template = template.strip()
    if re.search(r"[\s\x00-\x1f\x7f<>\"\\^`|]", template):
        raise BadPayment("A link has no blanks, quotes or brackets.")
    rest = template
    for place in _PLACES:
        rest = rest.replace(place, "0")
    if "{" in rest or "}" in rest:
        raise BadPayment(f"In braces a link knows {', '.join(_PLACES)} only.")
    try:
        parts = urlsplit(template)
        host, port = parts.hostname or "", parts.port
    except ValueError as fault:
        raise BadPayment("This is no address of a page.") from fault
    if parts.scheme != "https":
        raise BadPayment("A payment link begins with https://.")
    if parts.username is not None or "." not in host or "{" in parts.netloc:
        raise BadPayment("A payment link names the payment provider's host.")
    if port not in (None, 443):
        raise BadPayment("A payment link has no port of its own.")
    return template


def pay_link(template: str, *, number: str, amount: Decimal, currency: str) -> str:
    """The link for one document; empty without a template or when nothing is due."""
    if not template or amount <= 0:
        return ""
    exact = money.written(money.rounded(amount, money.exponent(currency)), currency)
    values = {"{number}": number, "{amount}": exact, "{currency}": currency}
    for place, value in values.items():
        template = template.replace(place, quote(value, safe=""))
    return template

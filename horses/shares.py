"""Owners' shares as people write them: percent, or a fraction such as 1/3. Pure.

Shares are kept as percent with four decimals. Thirds have no such figure, so the rule
is: shares that are written as fractions and add up to the whole are rounded down to
four decimals, and what is then missing goes, one ten-thousandth each, to the shares
that lost most by it (the first named where equal): the method of largest remainders.
Percents are taken as written and must add up to 100 by themselves.
"""

import re
from collections.abc import Sequence
from decimal import Decimal, localcontext
from fractions import Fraction

from practice.errors import Refused

HUNDRED = Decimal("100.0000")
STEP = Decimal("0.0001")
_FRACTION = re.compile(r"^(\d{1,4})\s*[/⁄]\s*(\d{1,4})$", re.ASCII)
_PERCENT = re.compile(r"^(\d{1,3}(?:[.,]\d{1,12})?|[.,]\d{1,12})\s*%?$", re.ASCII)


def parse_share(text: str) -> Fraction:
    """One share as the part of a whole horse, 0 < share ≤ 1.

    Args:
        text: ``60``, ``60 %``, ``33.33``, ``33,33`` (percent) or ``1/3`` (of the horse).

    Raises:
        Refused: it can't be read, or is not above nothing and at most the whole.
    """
    written = text.strip()
    if found := _FRACTION.match(written):
        above, below = int(found[1]), int(found[2])
        if not below:
            raise Refused("A fraction needs a number below the line, such as 1/3.")
        part = Fraction(above, below)
    elif found := _PERCENT.match(written):
        part = Fraction(found[1].replace(",", ".")) / 100
    else:
        raise Refused("Write the share as percent (60) or as a fraction (1/3).")
    if not 0 < part <= 1:
        raise Refused("A share is more than 0 % and at most 100 %.")
    return part


def settle(parts: Sequence[Fraction]) -> list[Decimal]:
    """These parts of one horse as percents that add up to exactly 100.0000.

    Raises:
        Refused: they don't add up; the sentence says by how much and what mends it.
    """
    if not parts:
        raise Refused("Name at least one owner with a share.")
    if sum(parts) == 1:
        return _by_largest_remainder(parts)
    rounded = [_percent(round(part * 1_000_000)) for part in parts]
    check_whole(rounded)
    return rounded


def check_whole(shares: Sequence[Decimal]) -> None:
    """That these percents make one whole horse.

    Raises:
        Refused: one is not above 0 with at most four decimals, or the sum is not 100.
    """
    if not shares:
        raise Refused("Name at least one owner with a share.")
    for share in shares:
        if not share.is_finite() or not 0 < share <= 100:
            raise Refused("A share is more than 0 % and at most 100 %.")
        if share != round(share, 4):
            raise Refused(
                f"A share has at most four decimals: write {round(share, 4)} "
                f"instead of {share}."
            )
    total = sum(shares, Decimal())
    if total == 100:
        return
    gap = abs(total - 100)
    mend = (
        f"{_plain(gap)} % too much. Take it off one owner."
        if total > 100
        else f"{_plain(gap)} % short. Give it to one owner, "
        "or write thirds and the like as fractions (1/3)."
    )
    raise Refused(f"The shares add up to {_plain(total)} %, which is {mend}")


def _by_largest_remainder(parts: Sequence[Fraction]) -> list[Decimal]:
    exact = [part * 1_000_000 for part in parts]
    whole = [int(value) for value in exact]
    missing = 1_000_000 - sum(whole)
    by_loss = sorted(range(len(parts)), key=lambda i: (whole[i] - exact[i], i))
    for index in by_loss[:missing]:
        whole[index] += 1
    if min(whole) == 0:
        raise Refused("The smallest share that can be kept is 0.0001 %.")
    return [_percent(value) for value in whole]


def _percent(ten_thousandths: int) -> Decimal:
    with localcontext(prec=12):
        return (Decimal(ten_thousandths) * STEP).quantize(STEP)


def _plain(value: Decimal) -> str:
    """Without needless zeros: 99.99, 100, 0.01."""
    return f"{value.normalize():f}"

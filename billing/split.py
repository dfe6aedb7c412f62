"""Sharing an amount by weights, to the last cent. Pure.

Largest remainder (Hamilton's method) on minor units: everyone gets the whole part of
the quota, the units left go to the largest fractions. Ties: larger weight, then key
ascending, so that the order in which weights arrive never matters. What holds, and
is tested: the shares add up to the amount; each is less than one minor unit from its
quota; weight 0 gets 0; equal weights differ by one unit at most; a larger weight
never gets less; the negative amount mirrors.
"""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from billing import money


class BadWeights(ValueError):
    """No weights, a negative one, or only zeros. ``key`` names it where one is to
    blame."""

    def __init__(self, sentence: str, key: str | None = None) -> None:
        super().__init__(sentence)
        self.key = key


def _checked(weights: Mapping[str, Fraction]) -> Fraction:
    for key, weight in weights.items():
        if weight < 0:
            raise BadWeights("A weight can't be negative.", key)
    whole = sum(weights.values(), Fraction(0))
    if not whole:
        raise BadWeights("At least one weight must be above zero.")
    return whole


def split_units(units: int, weights: Mapping[str, Fraction]) -> dict[str, int]:
    """Share whole minor units; keys in the order given. Raises BadWeights."""
    whole = _checked(weights)
    sign, units = (-1, -units) if units < 0 else (1, units)
    quotas = {key: units * weight / whole for key, weight in weights.items()}
    shares = {key: int(quota) for key, quota in quotas.items()}
    left = units - sum(shares.values())
    by_claim = sorted(
        weights, key=lambda key: (shares[key] - quotas[key], -weights[key], key)
    )
    for key in by_claim[:left]:
        shares[key] += 1
    return {key: sign * share for key, share in shares.items()}


def split(
    amount: Decimal, weights: Mapping[str, Decimal | Fraction | int], *, decimals: int
) -> dict[str, Decimal]:
    """Share ``amount`` (major unit, at most ``decimals`` decimals) by ``weights``.

    Raises BadWeights, and money.BadAmount for an amount finer than a minor unit.
    """
    exact = {key: Fraction(weight) for key, weight in weights.items()}
    units = split_units(money.minor(amount, decimals), exact)
    return {key: money.major(share, decimals) for key, share in units.items()}

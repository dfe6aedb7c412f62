"""Figures drawn from a digest of what they belong to: each load of a set on the same
day is the same, whatever the order. Pure.
"""

from collections.abc import Sequence
from decimal import Decimal
from hashlib import blake2b
from typing import Any


def draw(low: float, high: float, *of: object) -> float:
    """A figure between low and high that belongs to ``of``."""
    digest = blake2b("/".join(map(str, of)).encode(), digest_size=6).digest()
    return low + (high - low) * int.from_bytes(digest, "big") / 2**48


def pick(options: Sequence[Any], *of: object) -> Any:
    return options[int(draw(0, len(options), *of))]


def tenths(value: float) -> Decimal:
    return Decimal(round(value * 10)) / 10

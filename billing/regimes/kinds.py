"""What a tax regime is: its rates by code and day, its schemes, its sources. Pure."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

ALWAYS = date(2000, 1, 1)
"""Where a rate began before any invoice of ours."""
FROM_MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class Rate:
    """One code's rate over a period.

    ``percent``: None for O, and where only the practice can know it (US sales tax).
    ``reason_code`` and ``reason``: BT-121 and BT-120, for E and O. ``source``: where
    the figure or the words were looked up, or ``from memory``.
    """

    code: str
    name: str
    category: str
    percent: Decimal | None
    starts: date = ALWAYS
    ends: date | None = None
    reason_code: str = ""
    reason: str = ""
    source: str = FROM_MEMORY


@dataclass(frozen=True, slots=True)
class Place:
    """A province or state whose rates are its own."""

    code: str
    name: str
    rates: tuple[Rate, ...]


@dataclass(frozen=True, slots=True)
class Regime:
    """How a country taxes a farrier's invoice.

    ``rates``: for a registered practice; ``small``: under the country's scheme for
    small businesses, None where it has none apart from not being registered;
    ``unregistered``: for one that isn't registered at all. ``needs_number``: a taxed
    invoice must bear the seller's tax number (BR-S-02). ``work_code``,
    ``goods_code``: what is proposed for the tax classes service and goods.
    ``places``: provinces with rates of their own, by code. ``rounding``: what the
    country says of rounding the tax, where we know; ours is once a document.
    """

    code: str
    name: str
    tax_word: str
    number_word: str
    rates: tuple[Rate, ...]
    unregistered: Rate
    source: str
    small: Rate | None = None
    needs_number: bool = True
    work_code: str = "standard"
    goods_code: str = "standard"
    places: dict[str, Place] = field(default_factory=dict)
    rounding: str = ""


def standard(
    percent: str, starts: date, ends: date | None = None, *, source: str = FROM_MEMORY
) -> Rate:
    """The standard rate over a period."""
    return Rate(
        "standard", "Standard rate", "S", Decimal(percent), starts, ends, source=source
    )


def reduced(
    percent: str, starts: date, ends: date | None = None, *, source: str = FROM_MEMORY
) -> Rate:
    """The reduced rate over a period."""
    return Rate(
        "reduced", "Reduced rate", "S", Decimal(percent), starts, ends, source=source
    )


ZERO = Rate("zero", "Zero rate", "Z", Decimal(0), source="")


def outside(reason: str, *, code: str = "", name: str = "No tax") -> Rate:
    """Outside the scope of tax (category O), with the words that say why."""
    return Rate("none", name, "O", None, reason_code=code, reason=reason)


DAMAGES = Rate(
    *("outside", "Outside the scope of tax", "O", None),
    reason_code="VATEX-EU-O",
    reason="Damages for late payment, outside the scope of tax",
    source="",
)
"""Interest and fixed sum for late payment, in every regime."""


def scheme(name: str, reason: str, *, source: str, code: str = "") -> Rate:
    """A scheme for small businesses: exempt (category E) with the country's words."""
    return Rate(
        *("none", name, "E", Decimal(0)),
        reason_code=code,
        reason=reason,
        source=source,
    )

"""The demo's rules of charging, so that their pages show something. Figures are
invented (common practice, no source); they hold for visits closed from now on."""

from decimal import Decimal
from typing import Any

from billing.models import (
    BarnTerms,
    BillingSettings,
    ChargeItem,
    ClientTerms,
    NoticeStep,
    OffHours,
    Price,
    TravelBand,
)

ROWS: tuple[type[Any], ...] = (
    *(Price, TravelBand, OffHours, NoticeStep, BarnTerms, ClientTerms),
    BillingSettings,
)
"""What leaving the demo takes out, in this order."""

WINTER_SET = {"whinbrae": Decimal("112.00"), "tamarack": Decimal("255.00")}


def show_rules(which: str) -> None:
    """Off-hours, steps of a late call-off, a dearer full set in winter."""
    BillingSettings.objects.update_or_create(
        pk=1, defaults={"off_hours_on": True, "late_call_off_on": True}
    )
    OffHours.objects.get_or_create(
        name="Sunday", defaults={"weekday": 7, "percent": Decimal(25)}
    )
    for hours, percent in ((24, 25), (4, 75)):
        NoticeStep.objects.get_or_create(
            kind=NoticeStep.Kind.LATE_CALL_OFF,
            under_hours=hours,
            defaults={"percent": Decimal(percent)},
        )
    item = ChargeItem.objects.filter(name="Full set").first()
    if item is not None and which in WINTER_SET:
        Price.objects.get_or_create(
            item=item,
            season_from=1215,
            season_to=215,
            defaults={"amount": WINTER_SET[which]},
        )

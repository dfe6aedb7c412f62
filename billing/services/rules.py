"""The rules that the practice switches on, and the rows that they go by."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import models, transaction

from billing.models import BillingSettings, NoticeStep, OffHours, TravelBand
from billing.services.keeping import put, told
from billing.services.lines import checked_price
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change

ROWS: dict[str, type[models.Model]] = {
    "band": TravelBand,
    "off_hours": OffHours,
    "step": NoticeStep,
}
"""What has rows of its own on the rules' page."""


def the_settings() -> BillingSettings:
    """The one row, held by the caller's transaction; made if it isn't there."""
    BillingSettings.objects.get_or_create(pk=1)
    return BillingSettings.objects.select_for_update().get(pk=1)


@transaction.atomic
def set_rules(*, by: User | None, wish: Mapping[str, Any]) -> bool:
    """Sets how the practice charges; whether anything changed.

    Raises Refused for an amount that can't be, and for travel by distance without a
    price: naming the field.
    """
    practice = Practice.objects.the_one()
    for name in ("travel_price", "minimum_charge"):
        amount = wish.get(name)
        if amount is not None:
            checked_price(amount, practice.currency, field=name)
    by_distance = wish.get("travel") == BillingSettings.Travel.DISTANCE
    if by_distance and not wish.get("travel_price"):
        raise Refused("Say what a kilometre or mile costs.", field="travel_price")
    return put(row=the_settings(), fields=wish, by=by, action="rules set")


@transaction.atomic
def add_row(*, by: User | None, kind: str, wish: Mapping[str, Any]) -> models.Model:
    """Adds a travel band, off-hours or a step of missed visits; the same again is the
    same row.

    Raises Refused for what can't be, naming the field.
    """
    _check(kind, wish)
    model = ROWS[kind]
    practice = Practice.objects.select_for_update().get()
    for name in ("price", "amount"):
        if wish.get(name) is not None:
            checked_price(wish[name], practice.currency, field=name)
    there = model._default_manager.filter(**_sought(wish)).first()
    if there is not None:
        return there
    _check_alone(kind, wish)
    row = model._default_manager.create(**wish)
    after = {name: told(value) for name, value in wish.items() if value is not None}
    note_change(by=by, obj=row, action="rule added", after=after)
    return row


def _sought(wish: Mapping[str, Any]) -> dict[str, Any]:
    return {
        (f"{name}__isnull" if value is None else name): (
            True if value is None else value
        )
        for name, value in wish.items()
    }


def _check(kind: str, wish: Mapping[str, Any]) -> None:
    if kind == "band":
        if (wish.get("area") is None) == (wish.get("up_to_metres") is None):
            raise Refused("Choose an area or say how far, one of the two.", "area")
        if wish.get("price") is None:
            raise Refused("Say what it costs.", field="price")
        return
    percent: Decimal | None = wish.get("percent")
    if (percent is None) == (wish.get("amount") is None):
        raise Refused("Give a percentage or an amount, one of the two.", "amount")
    if percent is not None and not 0 <= percent <= 1000:
        raise Refused("A percentage lies between 0 and 1000.", field="percent")
    if kind == "off_hours":
        if (wish.get("from_time") is None) != (wish.get("to_time") is None):
            raise Refused("Say both from when and to when.", field="to_time")
        when = ("weekday", "day", "from_time")
        if all(wish.get(name) is None for name in when):
            raise Refused("Say when: a weekday, a day or a time.", field="weekday")
        if wish.get("from_time") is not None and wish["from_time"] == wish["to_time"]:
            raise Refused("It ends when it begins: choose a later end.", "to_time")


def _check_alone(kind: str, wish: Mapping[str, Any]) -> None:
    """What there may be one of only."""
    keys = {"band": ("area", "up_to_metres"), "step": ("kind", "under_hours")}
    if kind not in keys:
        return
    sought = _sought({name: wish.get(name) for name in keys[kind]})
    if ROWS[kind]._default_manager.filter(**sought).exists():
        name = "area" if kind == "band" and wish.get("area") else keys[kind][1]
        raise Refused("There is one like it: remove that first.", field=name)


@transaction.atomic
def remove_row(*, by: User | None, kind: str, pk: int) -> None:
    """Removes one; drafts that were made by it keep their lines. Safe to repeat."""
    row = ROWS[kind]._default_manager.filter(pk=pk).first()
    if row is not None:
        note_change(by=by, obj=row, action="rule removed", before={"was": str(row)})
        row.delete()

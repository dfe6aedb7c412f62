"""One item of the charge list: what it is, and its other prices."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from billing.models import ChargeItem, Price
from billing.services.keeping import put, told
from billing.services.lines import checked_price
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change


@transaction.atomic
def set_item(*, item: ChargeItem, by: User | None, wish: Mapping[str, Any]) -> bool:
    """Sets name, price, unit, tax and price mode of an item; whether anything changed.

    Raises Refused for a price that can't be or an empty name, naming the field.
    """
    row = ChargeItem.objects.select_for_update(of=("self",)).get(pk=item.pk)
    if wish.get("price") is not None:
        checked_price(wish["price"], Practice.objects.the_one().currency, field="price")
    if "name" in wish and not wish["name"].strip():
        raise Refused("Give the charge a name.", field="name")
    return put(row=row, fields=wish, by=by, action="changed")


@transaction.atomic
def add_price(*, item: ChargeItem, by: User | None, wish: Mapping[str, Any]) -> Price:
    """Adds another price; the same again is the same row.

    Raises Refused for a price for nobody in particular, a season with one end, or a
    period that ends before it begins: naming the field.
    """
    item = ChargeItem.objects.select_for_update(of=("self",)).get(pk=item.pk)
    checked_price(wish["amount"], Practice.objects.the_one().currency, field="amount")
    starts, ends = wish.get("starts"), wish.get("ends")
    if starts and ends and ends < starts:
        raise Refused("It ends before it begins.", field="ends")
    if (wish.get("season_from") is None) != (wish.get("season_to") is None):
        raise Refused("A season has a first and a last day.", field="season_to")
    when = ("client", "barn", "starts", "ends", "season_from")
    if all(wish.get(name) is None for name in when):
        raise Refused(
            "Say for whom, where or when: the usual price is above.", field="client"
        )
    row, is_new = Price.objects.get_or_create(item=item, **wish)
    if is_new:
        after = {name: told(value) for name, value in wish.items() if value is not None}
        note_change(by=by, obj=row, action="price added", after=after)
    return row


@transaction.atomic
def remove_price(*, price: Price, by: User | None) -> None:
    """Takes a price away; what was drafted by it stays. Safe to repeat."""
    row = Price.objects.filter(pk=price.pk).first()
    if row is not None:
        note_change(by=by, obj=row, action="price removed", before={"was": str(row)})
        row.delete()

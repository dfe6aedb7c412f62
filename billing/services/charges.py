"""The charge list and the tax rates: proposed for a country, changed by the books."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db import transaction

from billing import money
from billing.models import ChargeItem, Invoice, Payment, TaxClass, TaxRate
from billing.selectors import regime_of
from billing.services.totals import retax_drafts
from horses.models import Work
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change

CALL_OUT_NAME = "Call-out"


@dataclass(frozen=True, slots=True)
class Priced:
    """What the charge list says of one item after a change."""

    price: Decimal | None
    tax_code: str


@transaction.atomic
def propose_charge_list(*, practice: Practice) -> None:
    """Adds what is missing: the regime's rates, a call-out, an item for each kind of
    work. Prices stay empty: they are the practice's own. Safe to repeat.
    """
    # Two who open the page at once wait for each other.
    Practice.objects.select_for_update().get(pk=practice.pk)
    regime = regime_of(practice)
    for rate in regime.rates:
        TaxRate.objects.get_or_create(
            regime=regime.code,
            code=rate.code,
            starts=rate.starts,
            defaults={
                "name": rate.name,
                "category": rate.category,
                "percent": rate.percent,
                "reason_code": rate.reason_code,
                "reason": rate.reason,
                "ends": rate.ends,
            },
        )
    if not ChargeItem.objects.active().filter(kind=ChargeItem.Kind.CALL_OUT).exists():
        ChargeItem.objects.create(kind=ChargeItem.Kind.CALL_OUT, name=CALL_OUT_NAME)
    priced = ChargeItem.objects.filter(work__isnull=False).values("work")
    for work in Work.objects.exclude(pk__in=priced):
        ChargeItem.objects.create(
            kind=ChargeItem.Kind.WORK,
            work=work,
            name=work.name,
            position=work.position,
        )


@transaction.atomic
def set_prices(*, by: User | None, priced: Mapping[int, Priced]) -> int:
    """Sets prices and tax codes of charges, by key. What is the same stays untouched.

    Returns how many changed. Raises Refused for a negative price or one finer than
    the currency.
    """
    practice = Practice.objects.the_one()
    changed = 0
    rows = ChargeItem.objects.select_for_update().filter(pk__in=priced)
    for item in rows:
        wanted = priced[item.pk]
        _check_price(wanted.price, practice.currency, field=f"price_{item.pk}")
        if (item.price, item.tax_code) == (wanted.price, wanted.tax_code):
            continue
        before = {"price": _shown(item.price), "tax_code": item.tax_code}
        item.price, item.tax_code = wanted.price, wanted.tax_code
        item.save(update_fields=["price", "tax_code", "changed_at"])
        note_change(
            by=by,
            obj=item,
            action="priced",
            before=before,
            after={"price": _shown(item.price), "tax_code": item.tax_code},
        )
        changed += 1
    return changed


@transaction.atomic
def add_extra(
    *, by: User | None, name: str, price: Decimal | None, tax_code: str
) -> ChargeItem:
    """Adds an extra or goods to the charge list; the same name again is the same item.

    Raises Refused for an empty name or a price that can't be.
    """
    name = " ".join(name.split())
    if not name:
        raise Refused("Give the charge a name.", field="name")
    _check_price(price, Practice.objects.the_one().currency, field="price")
    item, is_new = ChargeItem.objects.get_or_create(
        kind=ChargeItem.Kind.EXTRA,
        name=name,
        is_active=True,
        defaults={
            "price": price,
            "tax_code": tax_code,
            "tax_class": TaxClass.GOODS,
        },
    )
    if is_new:
        note_change(
            by=by,
            obj=item,
            action="added",
            after={"name": name, "price": _shown(price), "tax_code": tax_code},
        )
    return item


@transaction.atomic
def retire_charge(*, by: User | None, item: ChargeItem) -> None:
    """Takes an extra off the charge list; old invoices keep it. Safe to repeat.

    Raises Refused for the call-out and for work, which the list always has.
    """
    if item.kind != ChargeItem.Kind.EXTRA:
        raise Refused(
            "Only extras can be taken off. Leave the price empty if it is never charged."
        )
    if item.is_active:
        item.is_active = False
        item.save(update_fields=["is_active", "changed_at"])
        note_change(by=by, obj=item, action="retired", before={"name": item.name})


@transaction.atomic
def set_tax_rate(
    *, by: User | None, code: str, percent: Decimal, starts: date
) -> TaxRate:
    """A new figure for a taxed code from a day on; the one before ends the day before.
    Drafts of work since that day follow.

    Raises Refused for a code that isn't taxed, a figure that can't be, or a day before
    the rate that holds now began.
    """
    regime = regime_of(Practice.objects.the_one())
    if not 0 < percent <= 100:
        raise Refused("A rate lies above 0 and at most at 100 %.", field="percent")
    rows = TaxRate.objects.select_for_update().filter(regime=regime.code, code=code)
    last = rows.order_by("-starts").first()
    if last is None or last.category != "S":
        raise Refused("Choose a code that is taxed.", field="code")
    if last.percent is None or last.starts == starts:
        before = _shown(last.percent)
        last.percent = percent
        last.save(update_fields=["percent", "changed_at"])
        note_change(
            by=by,
            obj=last,
            action="rate set",
            before={"percent": before},
            after={"percent": _shown(percent)},
        )
        retax_drafts()
        return last
    if starts < last.starts:
        raise Refused(
            f"The rate that holds now began on {last.starts}: choose a later day.",
            field="starts",
        )
    last.ends = starts - timedelta(days=1)
    last.save(update_fields=["ends", "changed_at"])
    rate = TaxRate.objects.create(
        regime=regime.code,
        code=code,
        name=last.name,
        category=last.category,
        percent=percent,
        starts=starts,
    )
    note_change(
        by=by,
        obj=rate,
        action="rate set",
        before={"percent": _shown(last.percent)},
        after={"percent": _shown(percent), "starts": str(starts)},
    )
    retax_drafts()
    return rate


@transaction.atomic
def practice_changed(*, fields: frozenset[str]) -> None:
    """What follows for money from a changed field of the practice, in the same
    transaction: drafts follow where the tax does.

    Raises Refused for another currency once there are documents or payments: sums of
    two currencies are none.
    """
    if "currency" in fields:
        there = Invoice.objects.exclude(state=Invoice.State.DISCARDED)
        if there.exists() or Payment.objects.exists():
            raise Refused(
                "There are invoices or payments in the old currency, so it stays. "
                "(Drafts alone can be discarded first.)",
                field="currency",
            )
    if fields & {"tax_registered", "tax_regime"}:
        retax_drafts()


def _shown(amount: Decimal | None) -> str | None:
    return None if amount is None else f"{amount.normalize():f}"


def _check_price(price: Decimal | None, currency: str, *, field: str) -> None:
    if price is None:
        return
    if price < 0:
        raise Refused("A price can't be negative.", field=field)
    decimals = money.exponent(currency)
    if money.rounded(price, decimals) != price:
        raise Refused(f"{currency} has {decimals} decimals at the most.", field=field)

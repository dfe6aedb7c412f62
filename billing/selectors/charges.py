"""Reads over tax rates, the charge list and who pays."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.db.models import Count, Exists, OuterRef

from billing import regimes
from billing.models import (
    BillingSettings,
    ChargeItem,
    ClientTerms,
    TaxClass,
    TaxRate,
)
from billing.models.charges import TaxCategory
from billing.regimes import Rate, Regime
from horses.models import Horse, Ownership, Payer, Work
from practice.models import Client, Practice


# ---- Tax ------------------------------------------------------------------------
def regime_of(practice: Practice) -> Regime:
    """The practice's tax regime, with its province's rates where these differ."""
    found = regimes.regime(practice.tax_regime)
    if not found.places:
        return found
    return regimes.regime(practice.tax_regime, billing_settings().tax_place)


def untaxed(regime: Regime) -> Rate:
    """What a practice that isn't registered charges: nothing, with its scheme's
    words."""
    scheme = billing_settings().unregistered_scheme
    if scheme == BillingSettings.Scheme.SMALL and regime.small is not None:
        return regime.small
    return regime.unregistered


def tax_on(practice: Practice, code: str, day: date) -> Rate:
    """The tax of a code on a day. A practice that isn't registered charges none; a
    code without a rate on that day comes back as taxed with ``percent`` None, which
    nobody may issue.
    """
    if code == regimes.DAMAGES.code:
        return regimes.DAMAGES
    regime = regime_of(practice)
    if not practice.tax_registered:
        return untaxed(regime)
    rows = TaxRate.objects.filter(regime=regime.code, code=code).on(day)
    row = rows.order_by("-starts").first()
    if row is None:
        known = regimes.rate_on(regime.rates, code, day)
        return known or Rate(code, code, "S", None)
    return Rate(
        code=row.code,
        name=row.name,
        category=row.category,
        percent=row.percent,
        reason_code=row.reason_code,
        reason=row.reason,
    )


def treated(rate: Rate, terms: ClientTerms, day: date) -> Rate:
    """The rate as a client with these terms is treated: what would be taxed is exempt
    while the certificate holds, or left to a business that accounts for it itself."""
    if rate.category != TaxCategory.STANDARD:
        return rate
    if terms.treatment == ClientTerms.Treatment.REVERSE:
        return replace(
            rate,
            category=TaxCategory.REVERSE,
            percent=Decimal(0),
            reason_code="VATEX-EU-AE",
            reason="Reverse charge",
        )
    until = terms.exempt_until
    if terms.treatment == ClientTerms.Treatment.EXEMPT and until and day <= until:
        return replace(
            rate,
            category=TaxCategory.EXEMPT,
            percent=Decimal(0),
            reason_code="",
            reason=f"Exempt: certificate {terms.exempt_number}, "
            f"valid to {until.isoformat()}",
        )
    return rate


def terms_of(client: Client) -> ClientTerms:
    """What was agreed with a client; an unsaved row of the usual where nothing was."""
    found = ClientTerms.objects.filter(client=client).first()
    return found or ClientTerms(client=client)


def billing_settings() -> BillingSettings:
    """How the practice charges; an unsaved row with everything off before it is set."""
    return BillingSettings.objects.filter(pk=1).first() or BillingSettings()


def class_codes(practice: Practice) -> dict[str, str]:
    """Tax class → the rate's code that the regime proposes for it."""
    regime = regime_of(practice)
    return {
        str(TaxClass.SERVICE): regime.work_code,
        str(TaxClass.GOODS): regime.goods_code,
    }


def code_of(item: ChargeItem, practice: Practice) -> str:
    """The rate's code that an item is taxed at: its own, else that of its class."""
    return item.tax_code or class_codes(practice)[item.tax_class]


def tax_choices(practice: Practice, day: date) -> list[tuple[str, str]]:
    """Codes that a charge can have, with the rate of the day: for a form."""
    regime = regime_of(practice)
    if not practice.tax_registered:
        return [(regime.work_code, untaxed(regime).name)]
    found: dict[str, str] = {}
    for rate in TaxRate.objects.filter(regime=regime.code).on(day):
        found.setdefault(rate.code, str(rate) if rate.percent else rate.name)
    for known in regime.rates:
        found.setdefault(known.code, known.name)
    return list(found.items())


def taxed_codes(practice: Practice) -> list[tuple[str, str]]:
    """Codes with a figure that the practice sets; none where it isn't registered."""
    if not practice.tax_registered:
        return []
    rates = regime_of(practice).rates
    return list(
        {rate.code: rate.name for rate in rates if rate.category == "S"}.items()
    )


# ---- The charge list --------------------------------------------------------------
def charge_list(*, with_prices: bool = False) -> list[ChargeItem]:
    """Active charges: the call-out, then work in its own order, then extras; with
    their other prices where these are asked for, by one query more."""
    order = {
        ChargeItem.Kind.CALL_OUT: 0,
        ChargeItem.Kind.WORK: 1,
        ChargeItem.Kind.EXTRA: 2,
    }
    rows = ChargeItem.objects.active().select_related("work")
    rows = rows.annotate(others=Count("prices"))
    if with_prices:
        rows = rows.prefetch_related("prices")
    return sorted(
        rows,
        key=lambda item: (
            order[ChargeItem.Kind(item.kind)],
            item.work.position if item.work else item.position,
            item.name,
        ),
    )


def is_proposed(practice: Practice) -> bool:
    """Whether rates, call-out and an item for each kind of work are there."""
    has_item = Exists(ChargeItem.objects.filter(work=OuterRef("pk")))
    return (
        TaxRate.objects.filter(regime=regime_of(practice).code).exists()
        and ChargeItem.objects.filter(kind=ChargeItem.Kind.CALL_OUT).exists()
        and not Work.objects.filter(~has_item).exists()
    )


def payers_on(horses: Iterable[Horse], day: date) -> dict[int, dict[int, Fraction]]:
    """Who pays for each horse on a day: client → part of the whole (sums to 1).

    The payer of the horse and day, else the owners by share; a horse with neither has
    no entry. Two queries, however many horses.
    """
    keys = [horse.pk for horse in horses]
    found: dict[int, dict[int, Fraction]] = {}
    for own in Ownership.objects.filter(horse__in=keys).on(day):
        found.setdefault(own.horse_id, {})[own.client_id] = Fraction(own.share)
    for payer in Payer.objects.filter(horse__in=keys).on(day):
        found[payer.horse_id] = {payer.client_id: Fraction(1)}
    return {
        horse: {client: part / sum(parts.values()) for client, part in parts.items()}
        for horse, parts in found.items()
    }

"""What pricing asks: what happened at a visit, and what the practice charges for."""

from collections.abc import Iterable, Sequence
from datetime import date
from fractions import Fraction

from django.db.models import Max, Prefetch

from billing import money
from billing.models import (
    BarnTerms,
    BillingSettings,
    ChargeItem,
    NoticeStep,
    OffHours,
    Price,
    TravelBand,
)
from billing.pricing import (
    Band,
    Facts,
    Item,
    Job,
    OffHour,
    OtherPrice,
    Rules,
    Step,
)
from billing.selectors.charges import (
    billing_settings,
    class_codes,
    payers_on,
    regime_of,
)
from horses.models import Horse, Payer, Visit, VisitRecord
from practice.models import Barn, Practice

_DONE = {
    "trim": "trim",
    "reset": "reset",
    "new_shoe": "new shoe",
    "pull": "shoe pulled",
}


# ---- The charge list --------------------------------------------------------------
def priced_items(practice: Practice) -> dict[int, tuple[ChargeItem, Item]]:
    """Active items with their other prices, by key. Two queries."""
    rows = ChargeItem.objects.active().select_related("work")
    with_prices = rows.prefetch_related(
        Prefetch("prices", Price.objects.order_by("pk"))
    )
    codes = class_codes(practice)
    return {row.pk: (row, _item(row, practice, codes)) for row in with_prices}


def _item(row: ChargeItem, practice: Practice, codes: dict[str, str]) -> Item:
    includes_tax = row.includes_tax
    return Item(
        key=row.pk,
        name=row.name,
        price=row.price,
        tax_code=row.tax_code or codes[row.tax_class],
        includes_tax=practice.prices_include_tax
        if includes_tax is None
        else includes_tax,
        unit=row.unit,
        puts_back=row.puts_back,
        others=tuple(
            OtherPrice(
                amount=other.amount,
                client=other.client_id,
                barn=other.barn_id,
                starts=other.starts,
                ends=other.ends,
                season=(other.season_from, other.season_to)
                if other.season_from and other.season_to
                else None,
            )
            for other in row.prices.all()
        ),
    )


# ---- The rules --------------------------------------------------------------------
def rules_of(
    visit: Visit, practice: Practice, items: dict[int, tuple[ChargeItem, Item]]
) -> Rules:
    """What the practice switched on, as it holds at the visit's barn."""
    said = billing_settings()
    terms = barn_terms(visit.barn)
    return Rules(
        tax_code=regime_of(practice).work_code,
        includes_tax=practice.prices_include_tax,
        decimals=money.exponent(practice.currency),
        split_mode=(terms.split_mode if terms else "") or said.split_mode,
        call_out=next(
            (i for row, i in items.values() if row.kind == ChargeItem.Kind.CALL_OUT),
            None,
        ),
        missed=tuple(
            item
            for row, item in items.values()
            if row.work and row.work.kind == visit.kind
        ),
        travel=said.travel,
        travel_price=said.travel_price,
        free_metres=said.travel_free_metres,
        both_ways=said.travel_both_ways,
        of_round=said.travel_of_round,
        road_unit=practice.road_unit,
        bands=_bands(said),
        minimum=said.minimum_charge,
        off_hours=_off_hours(said),
        steps=_steps(said, visit.kind),
        put_back_days=said.put_back_days,
        put_back_call_out_free=said.put_back_call_out_free,
    )


def _bands(said: BillingSettings) -> tuple[Band, ...]:
    if said.travel != BillingSettings.Travel.ZONE:
        return ()
    return tuple(
        Band(row.price, row.area_id, row.up_to_metres)
        for row in TravelBand.objects.all()
    )


def _off_hours(said: BillingSettings) -> tuple[OffHour, ...]:
    if not said.off_hours_on:
        return ()
    return tuple(
        OffHour(
            name=row.name,
            weekday=row.weekday,
            day=row.day,
            between=(row.from_time, row.to_time)
            if row.from_time is not None and row.to_time is not None
            else None,
            percent=row.percent,
            amount=row.amount,
        )
        for row in OffHours.objects.all()
    )


def _steps(said: BillingSettings, kind: str) -> tuple[Step, ...] | None:
    is_on = {
        Visit.Kind.NO_SHOW: said.no_show_on,
        Visit.Kind.LATE_CALL_OFF: said.late_call_off_on,
    }
    if not is_on.get(Visit.Kind(kind), False):
        return None
    return tuple(
        Step(row.under_hours, row.percent, row.amount, row.with_call_out)
        for row in NoticeStep.objects.filter(kind=kind)
    )


def barn_terms(barn: Barn | None) -> BarnTerms | None:
    """What was agreed for a barn, if anything was."""
    if barn is None:
        return None
    return BarnTerms.objects.filter(barn=barn).first()


# ---- What happened ------------------------------------------------------------------
def visit_payers(
    horses: Sequence[Horse], visit: Visit
) -> dict[int, dict[int, Fraction]]:
    """Who pays for each horse of a visit: the horse's own payer of the day, else the
    one payer agreed for the barn, else the owners by share."""
    found = payers_on(horses, visit.day)
    terms = barn_terms(visit.barn)
    if terms is None or terms.payer_id is None:
        return found
    began = terms.payer_from is None or terms.payer_from <= visit.day
    if not began or (terms.payer_to is not None and terms.payer_to < visit.day):
        return found
    own = set(
        Payer.objects.filter(horse__in=horses)
        .on(visit.day)
        .values_list("horse", flat=True)
    )
    whole = {terms.payer_id: Fraction(1)}
    return {horse.pk: found[horse.pk] if horse.pk in own else whole for horse in horses}


def attended_before(
    horses: Iterable[Horse], day: date, *, but: Iterable[int] = ()
) -> dict[int, date]:
    """Horse → the day on which this practice last attended it before ``day``, for
    other work than ``but`` (a lost shoe put back doesn't begin the days anew)."""
    rows = VisitRecord.objects.filter(
        horse__in=list(horses),
        visit__day__lt=day,
        visit__kind=Visit.Kind.ATTENDED,
        visit__state=Visit.State.CLOSED,
    ).exclude(work__in=list(but))
    last = rows.values("horse").annotate(last=Max("visit__day")).order_by()
    return {row["horse"]: row["last"] for row in last}


def facts_of(
    visit: Visit,
    records: Sequence[VisitRecord],
    items: dict[int, tuple[ChargeItem, Item]],
) -> Facts:
    """The visit as pricing sees it. Horses without a payer have empty parts."""
    horses = [record.horse for record in records]
    parts = visit_payers(horses, visit)
    again = [
        row.work_id for row, item in items.values() if row.work_id and item.puts_back
    ]
    before = attended_before(horses, visit.day, but=again)
    by_work = {row.work_id: item for row, item in items.values() if row.work_id}
    terms = barn_terms(visit.barn)
    metres, of_round = visit.travel_metres, visit.round_metres
    if terms is not None and terms.travel_metres is not None:
        metres, of_round = terms.travel_metres, None
    return Facts(
        day=visit.day,
        kind=visit.kind,
        barn=visit.barn_id,
        area=visit.barn.area_id if visit.barn else None,
        start=visit.start_time,
        metres=metres,
        round_metres=of_round,
        round_stops=visit.round_stops,
        notice_minutes=visit.notice_minutes,
        jobs=tuple(
            _job(record, visit, by_work, parts, before.get(record.horse_id))
            for record in records
        ),
    )


def _job(
    record: VisitRecord,
    visit: Visit,
    items: dict[int, Item],
    parts: dict[int, dict[int, Fraction]],
    last_day: date | None,
) -> Job:
    horse = record.horse
    # The record of a missed visit names the fee; planned was the usual work.
    is_missed = visit.kind != Visit.Kind.ATTENDED
    work = None if is_missed else record.work_id
    work = work or horse.usual_work_id
    item = items.get(work or 0)
    is_usual = horse.usual_work_id is None or work == horse.usual_work_id
    is_agreed = horse.agreed_price is not None and is_usual
    named = item.name if item else (horse.usual_work_note or "Work")
    return Job(
        key=str(record.pk),
        name=f"{horse.name}: {named}",
        item=item,
        parts=parts.get(horse.pk, {}),
        agreed=horse.agreed_price if is_agreed else None,
        last_day=last_day,
    )


def done_in_words(record: VisitRecord) -> str:
    """What was done to which foot, as the record says it: 'new shoe LF RF, trim LH'.

    Asks the record's feet, which the caller prefetches.
    """
    feet: dict[str, list[str]] = {}
    for foot in record.feet.all():
        if foot.work in _DONE:
            feet.setdefault(_DONE[foot.work], []).append(foot.foot)
    return ", ".join(f"{work} {' '.join(on)}" for work, on in feet.items())[:400]

"""What a visit costs by the charge list and the rules that are switched on, without a
database. How a farrier charges is common practice, no source; that amounts add up is
arithmetic.
"""

from dataclasses import replace
from datetime import date, time
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from billing import tax
from billing.pricing import (
    Band,
    Facts,
    Item,
    Job,
    OffHour,
    OtherPrice,
    Rules,
    Step,
    charges_of,
    choose,
    in_season,
    step_of,
)

D = Decimal
MONDAY, SUNDAY = date(2026, 11, 23), date(2026, 11, 22)
ANNA, BERT, CORA = 1, 2, 3


def item(price="95", name="Full set", **more):
    amount = None if price is None else D(price)
    fields = {"key": 7, "tax_code": "standard", "includes_tax": False, **more}
    return Item(name=name, price=amount, **fields)


def job(name="Tansy", parts=None, price="95", **more):
    whole = parts or {ANNA: 1}
    exact = {
        client: Fraction(part) / sum(whole.values()) for client, part in whole.items()
    }
    more.setdefault("item", item(price))
    return Job(key=name, name=f"{name}: Full set", parts=exact, **more)


def facts(*jobs, day=MONDAY, kind="attended", **more):
    return Facts(day=day, kind=kind, jobs=tuple(jobs or [job()]), **more)


def rules(**more):
    return Rules(**{"tax_code": "standard", "includes_tax": False, **more})


def told(found):
    """(rule, whole) of each charge, as its first payer sees it."""
    return [(c.rule, c.whole(next(iter(c.parts)), 2)) for c in charges_of(*found)]


def shares(found, rule):
    (charge,) = (c for c in charges_of(*found) if c.rule == rule)
    return {client: charge.share(client, 2) for client in sorted(charge.parts)}


# ---- Which price -------------------------------------------------------------------
def test_the_usual_price_holds_where_no_other_does():
    assert choose(item(), client=ANNA, barn=1, day=MONDAY) == 95


@pytest.mark.parametrize(
    ("client", "barn", "price"),
    [(ANNA, 1, 70), (ANNA, 2, 80), (BERT, 1, 85), (BERT, 2, 95)],
)
def test_a_clients_price_wins_over_a_barns_and_both_together_over_either(
    client, barn, price
):
    others = (
        OtherPrice(D(80), client=ANNA),
        OtherPrice(D(85), barn=1),
        OtherPrice(D(70), client=ANNA, barn=1),
    )
    found = choose(item(others=others), client=client, barn=barn, day=MONDAY)
    assert found == price


def test_a_price_holds_from_its_first_day_to_its_last():
    dated = OtherPrice(D(100), starts=date(2027, 1, 1), ends=date(2027, 12, 31))
    days = [date(2026, 12, 31), date(2027, 1, 1), date(2027, 12, 31), date(2028, 1, 1)]
    found = [choose(item(others=(dated,)), client=1, barn=1, day=d) for d in days]
    assert found == [95, 100, 100, 95]


def test_of_two_dated_prices_the_later_beginning_wins():
    others = (
        OtherPrice(D(110), starts=date(2026, 7, 1)),
        OtherPrice(D(100), starts=date(2026, 1, 1)),
    )
    assert choose(item(others=others), client=1, barn=1, day=MONDAY) == 110


def test_season_price_also_over_the_turn_of_the_year():
    winter = OtherPrice(D(105), season=(1101, 228))
    days = [date(2026, 10, 31), date(2026, 11, 1), date(2027, 2, 28), date(2027, 3, 1)]
    found = [choose(item(others=(winter,)), client=1, barn=1, day=d) for d in days]
    assert found == [95, 105, 105, 95]
    assert in_season(date(2026, 6, 1), (601, 831))
    assert in_season(date(2026, 8, 31), (601, 831))
    assert not in_season(date(2026, 9, 1), (601, 831))


def test_a_season_counts_more_than_dates_and_a_client_more_than_a_season():
    others = (
        OtherPrice(D(110), starts=date(2026, 7, 1)),
        OtherPrice(D(105), season=(1101, 228)),
        OtherPrice(D(60), client=ANNA),
    )
    assert choose(item(others=others), client=BERT, barn=1, day=MONDAY) == 105
    assert choose(item(others=others), client=ANNA, barn=1, day=MONDAY) == 60


def test_the_price_agreed_for_the_horse_wins_over_all():
    others = (OtherPrice(D(60), client=ANNA),)
    horse = job(item=item(others=others), agreed=D(50))
    assert told((facts(horse), rules())) == [("work", 50)]


def test_co_owners_each_pay_their_part_of_their_own_price():
    horse = job(
        parts={ANNA: 60, BERT: 40}, item=item(others=(OtherPrice(D(80), client=BERT),))
    )
    assert shares((facts(horse), rules()), "work") == {
        ANNA: D("57.00"),
        BERT: D("32.00"),
    }


# ---- What all payers share ----------------------------------------------------------
THREE = (
    job("Ash", {ANNA: 1}, price="100"),
    job("Beech", {ANNA: 1}, price="100"),
    job("Cedar", {BERT: 1}, price="40"),
)


@pytest.mark.parametrize(
    ("mode", "anna", "bert"),
    [
        ("by_horse", "30.00", "15.00"),
        ("equally", "22.50", "22.50"),
        ("by_work", "37.50", "7.50"),
    ],
)
def test_a_call_out_is_shared_by_horse_equally_or_by_the_value_of_the_work(
    mode, anna, bert
):
    asked = rules(call_out=item("45", "Call-out"), split_mode=mode)
    assert shares((facts(*THREE), asked), "call_out") == {ANNA: D(anna), BERT: D(bert)}


def test_work_that_costs_nothing_is_shared_by_horse():
    free = (job("Ash", {ANNA: 1}, price="0"), job("Beech", {BERT: 1}, price="0"))
    asked = rules(call_out=item("45", "Call-out"), split_mode="by_work")
    assert shares((facts(*free), asked), "call_out") == {
        ANNA: D("22.50"),
        BERT: D("22.50"),
    }


def test_a_call_out_without_a_price_is_not_charged():
    for price in (None, "0"):
        assert told((facts(), rules(call_out=item(price)))) == [("work", 95)]


# ---- Travel ----------------------------------------------------------------------------
def distance(metres, **more):
    asked = rules(travel="distance", travel_price=D("0.45"), **more)
    return (facts(metres=metres), asked)


def test_distance_is_charged_by_the_kilometre():
    _, travel = charges_of(*distance(23_450))
    assert (travel.quantity, travel.unit, travel.prices[ANNA]) == (
        D("23.5"),
        "KMT",
        D("0.45"),
    )
    assert travel.whole(ANNA, 2) == D("10.58")  # 10.575, half up


def test_distance_by_the_mile_there_and_back_less_what_is_free():
    asked = distance(20_000, road_unit="mi", both_ways=True, free_metres=16_093)
    _, travel = charges_of(*asked)
    assert (travel.quantity, travel.unit) == (D("14.9"), "SMI")  # 23 907 m


def test_distance_of_a_round_is_shared_alike_by_its_barns():
    asked = rules(
        travel="distance", travel_price=D("0.45"), of_round=True, both_ways=True
    )
    _, travel = charges_of(
        facts(metres=9_000, round_metres=60_100, round_stops=4), asked
    )
    assert travel.quantity == 15  # 15 025 m
    _, alone = charges_of(facts(metres=9_000), asked)
    assert alone.quantity == 18  # no round: there and back


def test_distance_within_what_is_free_costs_nothing():
    assert told(distance(9_000, free_metres=10_000)) == [("work", 95)]


def test_distance_that_nobody_measured_is_asked_for_not_guessed():
    _, travel = charges_of(*distance(None))
    assert travel.prices == {ANNA: None}


BANDS = (
    Band(D(10), up_to_metres=10_000),
    Band(D(25), up_to_metres=30_000),
    Band(D(18), area=4),
)


@pytest.mark.parametrize(
    ("metres", "area", "price"),
    [(10_000, None, 10), (10_001, 9, 25), (29_000, 4, 18), (None, 4, 18)],
)
def test_zone_of_the_area_else_of_the_distance(metres, area, price):
    found = told((facts(metres=metres, area=area), rules(travel="zone", bands=BANDS)))
    assert found == [("work", 95), ("travel", price)]


@pytest.mark.parametrize("metres", [30_001, None])
def test_zone_beyond_the_last_band_is_asked_for(metres):
    _, travel = charges_of(facts(metres=metres), rules(travel="zone", bands=BANDS))
    assert travel.prices == {ANNA: None}


# ---- Off-hours and the minimum ----------------------------------------------------------
EVENING = OffHour("Evening", between=(time(18), time(7)), percent=D(50))
ON_SUNDAY = OffHour("Sunday", weekday=7, percent=D(25))
NEW_YEAR = OffHour("New Year's Day", day=date(2027, 1, 1), amount=D(60))
LUNCH = OffHour("Lunch", between=(time(12), time(13)), amount=D(5))


@pytest.mark.parametrize(
    ("day", "start", "charged"),
    [
        (MONDAY, time(10), []),
        (MONDAY, time(18), [D("47.50")]),
        (MONDAY, time(6, 59), [D("47.50")]),
        (MONDAY, time(7), []),
        (MONDAY, time(12), [D(5)]),
        (MONDAY, time(12, 59), [D(5)]),
        (MONDAY, time(13), []),
        (MONDAY, None, []),
        (SUNDAY, None, [D("23.75")]),
        (SUNDAY, time(20), [D("47.50")]),  # the dearer of two, never both
        (date(2027, 1, 1), None, [D(60)]),
    ],
)
def test_off_hours_by_weekday_day_and_time(day, start, charged):
    asked = rules(off_hours=(ON_SUNDAY, EVENING, NEW_YEAR, LUNCH))
    found = told((facts(day=day, start=start), asked))
    assert [amount for rule, amount in found if rule == "off_hours"] == charged


def test_off_hours_of_the_work_are_borne_by_each_for_the_own_work():
    asked = rules(off_hours=(ON_SUNDAY,))
    found = shares((facts(*THREE, day=SUNDAY), asked), "off_hours")
    assert found == {ANNA: D("50.00"), BERT: D("10.00")}


def test_minimum_charge_is_made_up_and_only_where_less_was_charged():
    found = told((facts(job(price="35")), rules(minimum=D(60), call_out=item("15"))))
    assert found == [("work", 35), ("call_out", 15), ("minimum", 10)]
    assert told((facts(), rules(minimum=D(60)))) == [("work", 95)]


def test_minimum_charge_waits_while_a_price_is_missing():
    assert told((facts(job(price=None)), rules(minimum=D(60)))) == [("work", 0)]


# ---- Who was not there -----------------------------------------------------------------
STEPS = (
    Step(under_hours=48, percent=D(25)),
    Step(under_hours=4, percent=D(100), with_call_out=True),
    Step(under_hours=24, percent=D(50)),
)


@pytest.mark.parametrize(
    ("hours", "percent"),
    [(0, 100), (3.99, 100), (4, 50), (23.9, 50), (24, 25), (47.9, 25), (48, None)],
)
def test_late_call_off_goes_by_steps_of_hours_before(hours, percent):
    step = step_of(STEPS, int(hours * 60))
    assert (step and step.percent) == percent


def test_late_call_off_without_known_notice_takes_the_mildest_step():
    assert step_of(STEPS, None).percent == 25


def test_late_call_off_in_good_time_costs_nothing():
    missed = facts(kind="late_call_off", notice_minutes=48 * 60)
    assert charges_of(missed, rules(steps=STEPS)) == ()


def test_late_call_off_charges_part_of_the_planned_work_and_the_call_out():
    missed = facts(*THREE, kind="late_call_off", notice_minutes=30)
    asked = rules(steps=STEPS, call_out=item("45", "Call-out"))
    assert told((missed, asked)) == [("late_call_off", 240), ("call_out", 45)]
    assert shares((missed, asked), "late_call_off") == {ANNA: D(200), BERT: D(40)}


def test_no_show_counts_as_no_notice_at_all():
    missed = facts(kind="no_show", notice_minutes=None)
    fee = (Step(amount=D(40)),)
    assert told((missed, rules(steps=fee))) == [("no_show", 40)]
    assert told((missed, rules(steps=STEPS)))[0] == ("no_show", 95)


def test_no_show_with_the_rule_off_costs_what_the_charge_list_says():
    missed = facts(kind="no_show")
    assert told((missed, rules(missed=(item("30", "No-show"),)))) == [("no_show", 30)]
    assert charges_of(missed, rules()) == ()


def test_no_show_is_taxed_as_the_charge_list_says_of_it():
    fee = item(None, "No-show", tax_code="outside")
    (charge,) = charges_of(
        facts(kind="no_show"), rules(steps=(Step(amount=D(40)),), missed=(fee,))
    )
    assert charge.tax_code == "outside"


# ---- A lost shoe -------------------------------------------------------------------------
def lost(days_ago):
    again = item("25", "Put back a shoe", puts_back=True)
    last = date.fromordinal(MONDAY.toordinal() - days_ago)
    return facts(job(item=again, last_day=last), metres=9_000)


def test_a_lost_shoe_is_put_back_free_to_the_last_day_and_so_is_the_way():
    asked = rules(
        put_back_days=14,
        call_out=item("20"),
        minimum=D(50),
        travel="distance",
        travel_price=D(1),
    )
    (charge,) = charges_of(lost(14), asked)
    assert (charge.whole(ANNA, 2), charge.free) == (
        25,
        "Free within 14 days of 2026-11-09",
    )
    paid = charges_of(lost(15), asked)
    assert [c.rule for c in paid] == ["work", "call_out", "travel"]
    assert not any(c.free for c in paid)
    with_call_out = charges_of(lost(14), replace(asked, put_back_call_out_free=False))
    assert [c.rule for c in with_call_out] == ["work", "call_out", "travel"]


def test_a_lost_shoe_beside_other_work_is_free_alone():
    both = facts(*lost(3).jobs, job("Ash", {BERT: 1}))
    asked = rules(put_back_days=14, call_out=item("20"))
    found = charges_of(both, asked)
    assert shares((both, asked), "call_out") == {BERT: 20}
    paid = replace(asked, put_back_call_out_free=False)
    assert shares((both, paid), "call_out") == {ANNA: 10, BERT: 10}
    assert [(c.rule, bool(c.free)) for c in found] == [
        ("work", True), ("work", False), ("call_out", False),
    ]  # fmt: skip


# ---- Whatever the rules, it adds up --------------------------------------------------------
PARTS = st.dictionaries(st.integers(1, 4), st.integers(1, 99), min_size=1, max_size=3)
PRICES = st.integers(0, 30_000).map(lambda cents: str(D(cents).scaleb(-2)))


@settings(max_examples=50)
@given(
    st.lists(st.tuples(PARTS, PRICES), min_size=1, max_size=5),
    st.sampled_from(["by_horse", "equally", "by_work"]),
    st.integers(0, 60_000),
    st.integers(0, 20_000),
)
def test_what_the_payers_pay_is_what_was_charged(horses, mode, minimum, metres):
    jobs = [job(f"H{n}", parts, price) for n, (parts, price) in enumerate(horses)]
    found = charges_of(
        facts(*jobs, day=SUNDAY, metres=metres),
        rules(
            split_mode=mode,
            call_out=item("45.05"),
            travel="distance",
            travel_price=D("0.47"),
            off_hours=(ON_SUNDAY,),
            minimum=D(minimum).scaleb(-2),
        ),
    )
    whole = D(0)
    for charge in found:
        assert sum(charge.parts.values()) == 1
        told = charge.whole(next(iter(charge.parts)), 2)
        assert sum(charge.share(c, 2) for c in charge.parts) == told
        whole += told
    assert whole >= D(minimum).scaleb(-2)


CENTS = st.integers(1, 10**7).map(lambda units: D(units).scaleb(-2))
RATES = st.sampled_from(["20", "19", "16", "21", "5.5", "8.25", "23", "13.5"]).map(D)
TOLD = st.builds(tax.Told, CENTS, st.just(tax.Category.S), RATES, st.booleans())


@given(st.lists(TOLD, min_size=1, max_size=6), st.lists(TOLD, max_size=2))
def test_prices_with_and_without_tax_on_one_document_are_both_kept(lines, allowances):
    """What was told with tax is paid to the cent; what was told without gets its tax
    by rate; the odd cents are the rounding amount (BT-114)."""
    found = tax.totals_of_told(lines, allowances)
    told_gross = sum(t.amount for t in lines if t.includes_tax) - sum(
        t.amount for t in allowances if t.includes_tax
    )
    bare = {}
    for sign, parts in ((1, lines), (-1, allowances)):
        for part in parts:
            if not part.includes_tax:
                bare[part.rate] = bare.get(part.rate, D(0)) + sign * part.amount
    with_tax = tax.totals(
        [tax.Entry(basis, tax.Category.S, rate) for rate, basis in bare.items()]
    ).total
    assert found.totals.due == told_gross + with_tax
    if not any(t.includes_tax for t in [*lines, *allowances]):
        assert found.totals.rounding == 0


@given(CENTS, RATES, st.integers(-4000, 4000).filter(bool))
def test_a_price_without_tax_is_found_that_gives_the_lines_net(gross, rate, eighths):
    """BT-146 ÷ BT-149 × BT-129 is BT-131 to the cent, and no price is negative."""
    quantity = D(eighths) / 8
    net = tax.net_of(tax.line_net(quantity, gross), rate)
    price, base = tax.price_of(net, quantity)
    assert price >= 0
    assert tax.line_net(quantity, price, base_quantity=base) == net

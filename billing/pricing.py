"""What a visit costs, and who pays which part: facts and rules in, charges out. Pure.

Nothing is looked up here: ``Facts`` say what happened, ``Rules`` what the practice
charges for, ``Item`` what the charge list says. Amounts are in the major unit and in
the price mode of their item. Each rule is one that the practice switches on; what it
comes to is a charge of its own, named after the rule, so that an invoice says why.

How a farrier charges for road, hours and absence is the practice's own affair: the
rules here are common practice, no source.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, time
from decimal import Decimal
from fractions import Fraction

from billing import money, tax
from billing.split import split

BY_HORSE, EQUALLY, BY_WORK = "by_horse", "equally", "by_work"
METRES = {"km": Decimal(1000), "mi": Decimal("1609.344")}
"""Metres in a unit of road (the mile of 1959, exact)."""
ROAD_CODES = {"km": "KMT", "mi": "SMI"}
"""UN/ECE Recommendation 20: kilometre, statute mile."""
PIECE = "C62"

Parts = Mapping[int, Fraction]
"""Client → part of the whole; the parts add up to 1."""


# ---- The charge list ----------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class OtherPrice:
    """A price that holds for a client, at a barn, over a period, in a season.

    ``season``: first and last day as month × 100 + day, both in; the last may lie in
    the next year (1101, 228).
    """

    amount: Decimal
    client: int | None = None
    barn: int | None = None
    starts: date | None = None
    ends: date | None = None
    season: tuple[int, int] | None = None

    def holds(self, *, client: int | None, barn: int | None, day: date) -> bool:
        """Whether it is for this client at this barn on this day."""
        if self.client not in (None, client) or self.barn not in (None, barn):
            return False
        if (self.starts and day < self.starts) or (self.ends and day > self.ends):
            return False
        return self.season is None or in_season(day, self.season)

    def rank(self) -> tuple[int, bool, bool, date]:
        """How specific it is: client and barn, client, barn, none; then one of a
        season; then one with dates; then the later beginning."""
        who = 2 * (self.client is not None) + (self.barn is not None)
        is_dated = self.starts is not None or self.ends is not None
        return who, self.season is not None, is_dated, self.starts or date.min


def in_season(day: date, season: tuple[int, int]) -> bool:
    """Whether a day lies in a season, which may run over the turn of the year."""
    first, last = season
    here = day.month * 100 + day.day
    return first <= here <= last if first <= last else here >= first or here <= last


@dataclass(frozen=True, slots=True)
class Item:
    """An item of the charge list. ``price`` None: not priced yet."""

    key: int | None
    name: str
    price: Decimal | None
    tax_code: str
    includes_tax: bool
    unit: str = PIECE
    others: tuple[OtherPrice, ...] = ()
    puts_back: bool = False


def choose(
    item: Item, *, client: int | None, barn: int | None, day: date
) -> Decimal | None:
    """The item's price for a client at a barn on a day: the most specific that holds,
    else the usual one."""
    holding = [
        (other.rank(), number, other.amount)
        for number, other in enumerate(item.others)
        if other.holds(client=client, barn=barn, day=day)
    ]
    return max(holding)[2] if holding else item.price


# ---- What happened ----------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Job:
    """The work on one horse. ``agreed``: the horse's own price for this work;
    ``last_day``: when this practice attended it before."""

    key: str
    name: str
    item: Item | None
    parts: Parts
    agreed: Decimal | None = None
    last_day: date | None = None

    def price(self, client: int | None, barn: int | None, day: date) -> Decimal | None:
        """What this payer would pay for the whole of it: the price agreed for the
        horse wins over all others."""
        if self.agreed is not None or self.item is None:
            return self.agreed
        return choose(self.item, client=client, barn=barn, day=day)


@dataclass(frozen=True, slots=True)
class Facts:
    """One visit. ``kind``: attended, no_show, late_call_off; ``metres``: the road
    there, one way; ``round_metres``: the whole round's, home to home, which
    ``round_stops`` barns share."""

    day: date
    kind: str
    jobs: tuple[Job, ...]
    barn: int | None = None
    area: int | None = None
    start: time | None = None
    metres: int | None = None
    round_metres: int | None = None
    round_stops: int | None = None
    notice_minutes: int | None = None


# ---- The rules -------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Band:
    """The price of the road into an area, or up to so many metres from home."""

    price: Decimal
    area: int | None = None
    up_to_metres: int | None = None


@dataclass(frozen=True, slots=True)
class OffHour:
    """When a visit costs more, and by how much: ``percent`` of the work, or
    ``amount``. A time that ends before it begins runs over midnight."""

    name: str
    weekday: int | None = None
    day: date | None = None
    between: tuple[time, time] | None = None
    percent: Decimal | None = None
    amount: Decimal | None = None

    def holds(self, day: date, start: time | None) -> bool:
        """Whether a visit of that day and time falls into it. A visit whose time isn't
        known falls into none that asks for a time."""
        if self.weekday not in (None, day.isoweekday()) or self.day not in (None, day):
            return False
        if self.between is None:
            return True
        if start is None:
            return False
        first, end = self.between
        return first <= start < end if first < end else start >= first or start < end


@dataclass(frozen=True, slots=True)
class Step:
    """What a missed visit costs when it was said less than ``under_hours`` before
    (None: however long): ``percent`` of the planned work, or ``amount``."""

    under_hours: int | None = None
    percent: Decimal | None = None
    amount: Decimal | None = None
    with_call_out: bool = False


@dataclass(frozen=True, slots=True)
class Rules:
    """What the practice switched on. None and empty: off."""

    tax_code: str
    includes_tax: bool
    decimals: int = 2
    split_mode: str = BY_HORSE
    call_out: Item | None = None
    missed: tuple[Item, ...] = ()
    travel: str = "none"
    travel_price: Decimal | None = None
    free_metres: int = 0
    both_ways: bool = False
    of_round: bool = False
    road_unit: str = "km"
    bands: tuple[Band, ...] = ()
    minimum: Decimal | None = None
    off_hours: tuple[OffHour, ...] = ()
    steps: tuple[Step, ...] | None = None
    put_back_days: int | None = None
    put_back_call_out_free: bool = True


# ---- What it comes to ----------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Charge:
    """One amount for the payers of a visit.

    ``prices``: payer → price of one unit as that payer has it (None: not known).
    ``note`` says how it was shared, with ``{part}`` for the payer's own; ``free``:
    why nothing is charged for it after all.
    """

    rule: str
    name: str
    parts: Parts
    prices: Mapping[int, Decimal | None]
    tax_code: str
    includes_tax: bool
    quantity: Decimal = Decimal(1)
    unit: str = PIECE
    item: int | None = None
    job: str | None = None
    note: str = ""
    free: str = ""

    def whole(self, client: int, decimals: int) -> Decimal:
        """What the whole of it costs at this payer's price; 0 if that isn't known."""
        price = money.rounded(self.prices[client] or Decimal(0), decimals)
        return tax.line_net(self.quantity, price, decimals=decimals)

    def share(self, client: int, decimals: int) -> Decimal:
        """The payer's own part of it, before what is free."""
        # Keys as long as each other, so that a tie goes to the client known longer.
        weights = {f"{key:012}": part for key, part in self.parts.items()}
        whole = self.whole(client, decimals)
        return split(whole, weights, decimals=decimals)[f"{client:012}"]

    @property
    def is_shared(self) -> bool:
        return len(self.parts) > 1


def charges_of(facts: Facts, rules: Rules) -> tuple[Charge, ...]:
    """All charges of a visit, in the order in which invoices show them."""
    if facts.kind != "attended":
        return _missed(facts, rules)
    work = tuple(_work(job, facts, rules) for job in facts.jobs)
    found = [*work]
    free = {charge.job for charge in work if charge.free}
    if rules.put_back_call_out_free:  # the others bear what is for all
        paying = tuple(job for job in facts.jobs if job.key not in free)
        facts = replace(facts, jobs=paying)
    if facts.jobs:
        found += _call_out(facts, rules, work)
        found += _travel(facts, rules, work)
    if len(free) < len(work):
        found += _off_hours(facts, rules, work)
        found += _minimum(facts, rules, work, found)
    return tuple(found)


def _work(job: Job, facts: Facts, rules: Rules) -> Charge:
    item = job.item
    return Charge(
        rule="work",
        name=job.name,
        parts=job.parts,
        prices={c: job.price(c, facts.barn, facts.day) for c in job.parts},
        tax_code=item.tax_code if item else rules.tax_code,
        includes_tax=item.includes_tax if item else rules.includes_tax,
        unit=item.unit if item else PIECE,
        item=item.key if item else None,
        job=job.key,
        note="{part} share" if len(job.parts) > 1 else "",
        free=_put_back(job, facts, rules),
    )


def _put_back(job: Job, facts: Facts, rules: Rules) -> str:
    days = rules.put_back_days
    if days is None or job.last_day is None or not (job.item and job.item.puts_back):
        return ""
    if (facts.day - job.last_day).days > days:
        return ""
    return f"Free within {days} days of {job.last_day.isoformat()}"


# ---- Amounts that all payers share ----------------------------------------------------
def _by_horse(jobs: Sequence[Job]) -> dict[int, Fraction]:
    parts: dict[int, Fraction] = {}
    for job in jobs:
        for client, part in job.parts.items():
            parts[client] = parts.get(client, Fraction(0)) + part / len(jobs)
    return parts


def _value(work: Iterable[Charge], decimals: int) -> dict[int, Decimal]:
    """Payer → what the work comes to for that payer, as the prices are told."""
    value: dict[int, Decimal] = {}
    for charge in work:
        for client in charge.parts:
            share = Decimal(0) if charge.free else charge.share(client, decimals)
            value[client] = value.get(client, Decimal(0)) + share
    return value


def _by_work(work: Sequence[Charge], decimals: int) -> dict[int, Fraction] | None:
    """None where the work costs nothing, so that there is nothing to go by."""
    value = _value(work, decimals)
    whole = sum(value.values(), Decimal(0))
    if whole <= 0:
        return None
    return {c: Fraction(v) / Fraction(whole) for c, v in value.items() if v > 0}


def shared_parts(
    jobs: Sequence[Job], work: Sequence[Charge], rules: Rules
) -> tuple[dict[int, Fraction], str]:
    """The parts by the practice's mode, and the words for them."""
    by_horse = _by_horse(jobs)
    if rules.split_mode == EQUALLY:
        count = len(by_horse)
        parts = dict.fromkeys(by_horse, Fraction(1, count))
        return parts, f"{{part}}, shared equally by {count} payers"
    if rules.split_mode == BY_WORK:
        by_work = _by_work(work, rules.decimals)
        if by_work is not None:
            return by_work, "{part}, shared by the value of the work"
    return by_horse, f"{{part}}, shared by the {len(jobs)} horses of the visit"


def _shared(
    rule: str,
    name: str,
    price: Decimal | None,
    facts: Facts,
    rules: Rules,
    work: Sequence[Charge],
) -> Charge:
    parts, words = shared_parts(facts.jobs, work, rules)
    return Charge(
        rule=rule,
        name=name,
        parts=parts,
        prices=dict.fromkeys(parts, price),
        tax_code=rules.tax_code,
        includes_tax=rules.includes_tax,
        note=words if len(parts) > 1 else "",
    )


def _of_item(
    rule: str, item: Item, facts: Facts, rules: Rules, work: Sequence[Charge]
) -> Charge:
    charge = _shared(rule, item.name, item.price, facts, rules, work)
    prices = {
        c: choose(item, client=c, barn=facts.barn, day=facts.day) for c in charge.parts
    }
    return replace(
        charge,
        prices=prices,
        tax_code=item.tax_code,
        includes_tax=item.includes_tax,
        unit=item.unit,
        item=item.key,
    )


def _call_out(facts: Facts, rules: Rules, work: Sequence[Charge]) -> list[Charge]:
    if rules.call_out is None:
        return []
    charge = _of_item("call_out", rules.call_out, facts, rules, work)
    return [charge] if any(charge.prices.values()) else []


def _travel(facts: Facts, rules: Rules, work: Sequence[Charge]) -> list[Charge]:
    if rules.travel == "distance":
        return _by_distance(facts, rules, work)
    if rules.travel == "zone":
        price = _zone_price(facts, rules)
        if price == 0:
            return []
        return [_shared("travel", "Travel", price, facts, rules, work)]
    return []


def _by_distance(facts: Facts, rules: Rules, work: Sequence[Charge]) -> list[Charge]:
    charge = _shared("travel", "Travel", rules.travel_price, facts, rules, work)
    metres = charged_metres(facts, rules)
    if metres is None:  # asked for on the draft, never guessed
        return [replace(charge, prices=dict.fromkeys(charge.parts))]
    road = money.ratio(metres / Fraction(METRES[rules.road_unit]), 1)
    if not road:
        return []
    told = f"{road.normalize():f} {rules.road_unit}"
    note = charge.note and f"{told}; {charge.note}"
    return [replace(charge, quantity=road, unit=ROAD_CODES[rules.road_unit], note=note)]


def charged_metres(facts: Facts, rules: Rules) -> Fraction | None:
    """The road that is charged, less what is free; None: nobody knows.

    By round, each barn bears the same part of the whole road; a visit that lay in no
    round, and one whose distance was agreed, goes by the road there.
    """
    if rules.of_round and facts.round_metres is not None and facts.round_stops:
        metres = Fraction(facts.round_metres, facts.round_stops)
    elif facts.metres is None:
        return None
    else:
        metres = Fraction(facts.metres * (2 if rules.both_ways else 1))
    return max(Fraction(0), metres - rules.free_metres)


def _zone_price(facts: Facts, rules: Rules) -> Decimal | None:
    """The area's band, else the narrowest that reaches as far; None: not known."""
    for band in rules.bands:
        if band.area is not None and band.area == facts.area:
            return band.price
    if facts.metres is None:
        return None
    reaching = [
        (band.up_to_metres, band.price)
        for band in rules.bands
        if band.up_to_metres is not None and facts.metres <= band.up_to_metres
    ]
    return min(reaching)[1] if reaching else None


def _off_hours(facts: Facts, rules: Rules, work: Sequence[Charge]) -> list[Charge]:
    """The dearest that holds, never two."""
    value = sum(_value(work, rules.decimals).values(), Decimal(0))
    found: list[Charge] = []
    for hour in rules.off_hours:
        if not hour.holds(facts.day, facts.start):
            continue
        if hour.amount is not None:
            found.append(
                _shared("off_hours", hour.name, hour.amount, facts, rules, work)
            )
        elif hour.percent is not None:
            found += _part_of_work(
                "off_hours", hour.name, hour.percent, value, work, rules
            )
    return [max(found, key=_asked)] if found else []


def _asked(charge: Charge) -> Decimal:
    return max(
        (price or Decimal(0) for price in charge.prices.values()), default=Decimal(0)
    )


def _part_of_work(
    rule: str,
    name: str,
    percent: Decimal,
    value: Decimal,
    work: Sequence[Charge],
    rules: Rules,
) -> list[Charge]:
    """So many per cent of the work, borne by each payer for the own work."""
    parts = _by_work(work, rules.decimals)
    amount = money.percent(value, percent, rules.decimals)
    if parts is None or not amount:
        return []
    shown = f"{percent.normalize():f} % of the work"
    return [
        Charge(
            rule=rule,
            name=f"{name}: {shown}",
            parts=parts,
            prices=dict.fromkeys(parts, amount),
            tax_code=rules.tax_code,
            includes_tax=rules.includes_tax,
            note="{part}, by the value of the work" if len(parts) > 1 else "",
        )
    ]


def _minimum(
    facts: Facts, rules: Rules, work: Sequence[Charge], found: Sequence[Charge]
) -> list[Charge]:
    """What is missing to the least that a visit costs. While a price is missing,
    nobody can say."""
    is_known = all(p is not None for charge in found for p in charge.prices.values())
    if rules.minimum is None or not is_known:
        return []
    missing = rules.minimum - sum(_value(found, rules.decimals).values(), Decimal(0))
    if missing <= 0:
        return []
    return [_shared("minimum", "Minimum charge, made up", missing, facts, rules, work)]


# ---- A visit that did not happen ----------------------------------------------------------
def step_of(steps: Sequence[Step], notice_minutes: int | None) -> Step | None:
    """The step that the notice falls into; None where it was in good time. Where
    nobody knows how long before it was said, the mildest."""
    by_hours = sorted(steps, key=lambda s: (s.under_hours is None, s.under_hours or 0))
    if notice_minutes is None:
        return by_hours[-1] if by_hours else None
    for step in by_hours:
        if step.under_hours is None or notice_minutes < step.under_hours * 60:
            return step
    return None


def _missed(facts: Facts, rules: Rules) -> tuple[Charge, ...]:
    planned = [
        _work(job, replace(facts, kind="attended"), replace(rules, put_back_days=None))
        for job in facts.jobs
    ]
    if rules.steps is None:
        return tuple(
            charge
            for item in rules.missed
            if any(
                (
                    charge := _of_item(facts.kind, item, facts, rules, planned)
                ).prices.values()
            )
        )
    notice = 0 if facts.kind == "no_show" else facts.notice_minutes
    step = step_of(rules.steps, notice)
    if step is None:
        return ()
    name = "No-show" if facts.kind == "no_show" else "Late call-off"
    found: list[Charge] = []
    if step.amount:
        found.append(_shared(facts.kind, name, step.amount, facts, rules, planned))
    elif step.percent:
        value = sum(_value(planned, rules.decimals).values(), Decimal(0))
        found += _part_of_work(facts.kind, name, step.percent, value, planned, rules)
    if rules.missed:  # taxed as the charge list says of it
        code = rules.missed[0].tax_code
        found = [replace(charge, tax_code=code) for charge in found]
    if step.with_call_out:
        found += _call_out(facts, rules, planned)
    return tuple(found)

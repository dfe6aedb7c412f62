"""The round sheet: a day on paper, with what to bring."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import F, Window
from django.db.models.functions import RowNumber

from horses.models import FootPlan, FootRecord, Horse, Work
from practice.models import Practice
from scheduling.models import Round
from scheduling.selectors.rounds import StopCard, cards
from scheduling.selectors.underway import slacks

_SHOES = (Work.Kind.NEW_SHOES,)
_RESETS = (Work.Kind.RESET,)


@dataclass(frozen=True, slots=True)
class SheetStop:
    """A stop as the sheet prints it. slack: minutes; None when it is over."""

    card: StopCard
    slack: int | None


@dataclass(frozen=True, slots=True)
class Bring:
    """What the day needs, summed. shoes: (what, how many), nails: about how many; from
    the last shoes of horses that get new ones. plans: feet with an accepted plan, as
    (horse, foot, bar, length to cut). unknown: horses whose last shoes nobody wrote
    down."""

    works: tuple[tuple[str, int], ...]
    shoes: tuple[tuple[str, int], ...]
    nails: int
    plans: tuple[tuple[str, str, str, str], ...]
    unknown: tuple[str, ...]
    two_people: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The day: its round, stops with slack, what to bring."""

    round: Round
    stops: tuple[SheetStop, ...]
    bring: Bring
    practice: Practice

    @property
    def metres(self) -> int | None:
        """Road metres of the whole round; None where one drive's are not known."""
        legs = [one.card.stop.drive_metres for one in self.stops]
        known = [one for one in (*legs, self.round.home_metres) if one is not None]
        return sum(known) if len(known) == len(legs) + 1 else None


def sheet_of(round_: Round, practice: Practice) -> Sheet:
    """The sheet of a round that came through ``with_stops``. Eight queries."""
    slack = slacks(round_, practice.zone)
    stops = tuple(
        SheetStop(card, slack.get(str(card.booking.pk))) for card in cards(round_)
    )
    horses = [horse for one in stops for horse in one.card.horses]
    two = [horse.name for horse in horses if horse.pk in _need_two(horses)]
    return Sheet(round_, stops, bring(horses, round_.day, two=two), practice)


def _need_two(horses: Sequence[Horse]) -> set[int]:
    from scheduling.models import HorseHandling

    rows = HorseHandling.objects.filter(horse__in=horses, needs_two=True)
    return set(rows.values_list("horse", flat=True))


def bring(horses: Sequence[Horse], day: date, *, two: Sequence[str] = ()) -> Bring:
    """What these horses need on a day, from their usual work, their last shoes and the
    foot plans that were accepted. Three queries, given ``usual_work``."""
    works = Counter(
        horse.usual_work.name if horse.usual_work else "work not said"
        for horse in horses
    )
    shod = [
        horse
        for horse in horses
        if horse.usual_work and horse.usual_work.kind in (*_SHOES, *_RESETS)
    ]
    last = _last_shoes(shod, day)
    shoes: Counter[str] = Counter()
    nails = 0
    for horse in shod:
        is_new = horse.usual_work and horse.usual_work.kind in _SHOES
        for record in last.get(horse.pk, ()):
            shoe = record.shoe
            nails += (shoe.nails_medial or 3) + (shoe.nails_lateral or 3)
            if is_new:
                shoes[_shoe_words(record)] += 1
    return Bring(
        works=tuple(sorted(works.items(), key=lambda one: (-one[1], one[0]))),
        shoes=tuple(sorted(shoes.items(), key=lambda one: (-one[1], one[0]))),
        nails=nails,
        plans=tuple(_plans(horses)),
        unknown=tuple(horse.name for horse in shod if horse.pk not in last),
        two_people=tuple(two),
    )


def _last_shoes(
    horses: Iterable[Horse], day: date
) -> Mapping[int, Sequence[FootRecord]]:
    """The foot records with the shoes of each horse's last shod feet. One query."""
    rows = (
        FootRecord.objects.filter(
            record__horse__in=[horse.pk for horse in horses],
            record__visit__day__lt=day,
            shoe__isnull=False,
            work__in=[FootRecord.Work.NEW_SHOE, FootRecord.Work.RESET],
        )
        .annotate(
            back=Window(
                RowNumber(),
                partition_by=[F("record__horse"), F("foot")],
                order_by=[F("record__visit__day").desc(), F("pk").desc()],
            ),
            of_horse=F("record__horse"),
        )
        .filter(back=1)
        .select_related("shoe")
    )
    found: dict[int, list[FootRecord]] = {}
    for row in rows:
        found.setdefault(row.of_horse, []).append(row)
    return found


def _shoe_words(record: FootRecord) -> str:
    """'fore, concave 20 × 10, size 4': what lies in the van's box, or is to be cut."""
    shoe = record.shoe
    end = "fore" if record.foot in ("LF", "RF") else "hind"
    bar = ""
    if shoe.section_width_mm and shoe.section_thickness_mm:
        bar = (
            f"{_short(shoe.section_width_mm)} × {_short(shoe.section_thickness_mm)} mm"
        )
    profile = shoe.get_profile_display() if shoe.profile else ""
    metal = shoe.get_metal_display() if shoe.metal not in ("", "steel") else ""
    size = f"size {shoe.size}" if shoe.size else ""
    parts = " ".join(one for one in (metal, profile, bar) if one)
    return ", ".join(one for one in (end, parts, size, shoe.style) if one)


def _short(mm: Decimal) -> str:
    return f"{float(mm):g}"


def _plans(horses: Sequence[Horse]) -> Iterable[tuple[str, str, str, str]]:
    names = {horse.pk: horse.name for horse in horses}
    rows = FootPlan.objects.filter(
        horse__in=list(names), state=FootPlan.State.ACCEPTED
    ).order_by("horse__name", "foot")
    for row in rows:
        said = row.document.get("shoe", {}) if isinstance(row.document, dict) else {}
        section = said.get("section", {}) if isinstance(said, dict) else {}
        width, thick = section.get("width_mm"), section.get("thickness_mm")
        bar = f"{width:g} × {thick:g} mm" if width and thick else ""
        length = row.result.get("bar_length_mm") if isinstance(row.result, dict) else 0
        cut = f"{length:.0f} mm" if isinstance(length, int | float) and length else ""
        yield names[row.horse_id], row.foot, bar, cut

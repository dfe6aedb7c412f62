"""The demo's horses, their owners and payers, and the work that they usually get."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from horses.demo.draw import draw, pick
from horses.models import Conformation, Horse, Ownership, Payer, Work
from practice.models import Barn, Client

FEET = ("LF", "RF", "LH", "RH")
DAYS_BACK = 730
HABIT_DAYS = 42
"""How far back the demo's visits reach, and the practice's usual interval."""

WORKS = (
    ("Full set", Work.Kind.NEW_SHOES, 75),
    ("Reset, all four", Work.Kind.RESET, 60),
    ("Front shoes, trim behind", Work.Kind.NEW_SHOES, 55),
    ("Trim", Work.Kind.TRIM, 25),
    ("Pull and trim", Work.Kind.PULL, 30),
    ("Check", Work.Kind.CHECK, 15),
    ("No-show", Work.Kind.NO_SHOW, 0),
    ("Late call-off", Work.Kind.LATE_CALL_OFF, 0),
)
"""Minutes a horse: common practice, no source."""


@dataclass
class Animal:
    """A horse with what the demo needs to know to make its visits."""

    row: Horse
    barefoot: bool
    has_visits: bool
    findings: list[list[str]]
    works: dict[str, Work]
    traction: str
    last: date | None = None
    known_from: date | None = None

    def is_known(self, day: date) -> bool:
        """Whether the practice treated it by then."""
        return self.known_from is None or day >= self.known_from

    @property
    def days(self) -> int:
        return 7 * (self.row.interval_weeks or HABIT_DAYS // 7)

    @property
    def key(self) -> str:
        return self.row.name


def works_of_practice() -> dict[str, Work]:
    for position, (name, kind, minutes) in enumerate(WORKS):
        Work.objects.get_or_create(
            name=name, defaults={"kind": kind, "minutes": minutes, "position": position}
        )
    return {work.name: work for work in Work.objects.all()}


# ---- Horses --------------------------------------------------------------------
def animals_of_set(
    found: dict[str, Any], works: dict[str, Work], today: date
) -> list[Animal]:
    clients = {client.name: client for client in Client.objects.all()}
    barns = {barn.name: barn for barn in Barn.objects.all()}
    breeds = {row["breed"]: row for row in found["breeds"]}
    animals = []
    for told in (*found["horses"], *_drawn(found)):
        horse = _horse(told, breeds, found, barns[told["at"]], works, today)
        _owners(horse, told, clients, today)
        animals.append(
            Animal(
                row=horse,
                barefoot=told.get("barefoot", False),
                has_visits=told.get("visits", 1) > 0,
                findings=told.get("findings") or _usual_findings(horse),
                works=works,
                traction=found["traction"],
                known_from=(
                    today - timedelta(days=told["known_days"])
                    if "known_days" in told
                    else None
                ),
            )
        )
    return animals


def _drawn(found: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """The horses that ``[at]`` counts, with names and breeds from the lists."""
    names = iter(found["names"])
    for barn, kept in found["at"].items():
        for client, how_many in kept:
            for _ in range(how_many):
                name = next(names)
                breed = pick(found["breeds"], name, "breed")
                use = pick(breed["uses"], name, "use")
                barefoot = use == "companion" or draw(0, 1, name, "bare") < 0.2
                yield {
                    "name": name,
                    "at": barn,
                    "breed": breed["breed"],
                    "use": use,
                    "sex": pick(("mare", "gelding"), name, "sex"),
                    "colour": pick(found["colours"], name, "colour"),
                    "shares": {client: 100},
                    "barefoot": barefoot,
                    "interval_weeks": pick((None, None, None, 5, 7, 8), name, "weeks"),
                }


def _horse(
    told: dict[str, Any],
    breeds: dict[str, Any],
    found: dict[str, Any],
    barn: Barn,
    works: dict[str, Work],
    today: date,
) -> Horse:
    name, breed = told["name"], breeds[told["breed"]]
    is_young = told["use"] == "youngstock"
    usual = told.get("work") or (
        "Trim"
        if told.get("barefoot")
        else pick(("Full set", "Full set", "Front shoes, trim behind"), name, "work")
    )
    return Horse.objects.create(
        name=name,
        barn=barn,
        breed=told["breed"],
        foaled_year=today.year - (told.get("age") or _age(name, is_young=is_young)),
        sex=told["sex"],
        colour=told["colour"],
        height_mm=round(draw(*breed["height_cm"], name, "height")) * 10,
        mass_kg=round(draw(*breed["mass_kg"], name, "mass") / 5) * 5,
        use=told["use"],
        cautions=told.get("cautions", ""),
        conformation=told.get("conformation", ""),
        interval_weeks=told.get("interval_weeks"),
        usual_work=works[usual],
        status=told.get("status", Horse.Status.ACTIVE),
    )


def _age(name: str, *, is_young: bool) -> int:
    return 2 if is_young else int(draw(5, 22, name, "age"))


def limbs_of_set(found: dict[str, Any], today: date) -> None:
    """How the limbs of horses with a story are built, known since the first visits."""
    horses = {horse.name: horse for horse in Horse.objects.all()}
    Conformation.objects.bulk_create(
        Conformation(
            horse=horses[told["name"]],
            limb=limb,
            kind=kind,
            place=place,
            direction=direction,
            grade=grade,
            seen_on=today - timedelta(days=DAYS_BACK),
        )
        for told in found["horses"]
        for limb, kind, place, direction, grade in told.get("built", ())
    )


def _owners(
    horse: Horse, told: dict[str, Any], clients: dict[str, Client], today: date
) -> None:
    """Shares that add up to 100 on each day from the first."""
    first = today - timedelta(days=DAYS_BACK + 400)
    starts = first
    if seller := told.get("sold_by"):
        starts = today - timedelta(days=320)
        Ownership.objects.create(
            horse=horse,
            client=clients[seller],
            starts=first,
            ends=starts - timedelta(days=1),
        )
    Ownership.objects.bulk_create(
        Ownership(
            horse=horse, client=clients[client], share=Decimal(share), starts=starts
        )
        for client, share in told["shares"].items()
    )
    if payer := told.get("payer"):
        Payer.objects.create(horse=horse, client=clients[payer], starts=starts)


def _usual_findings(horse: Horse) -> list[list[str]]:
    """One horse in three has something worth writing down."""
    if draw(0, 1, horse.name, "finding") > 0.34:
        return []
    kind, place = pick(
        (
            ("thrush", "frog"),
            ("flare", "lateral_quarter"),
            ("flare", "medial_quarter"),
            ("long_toe", "toe"),
            ("white_line_disease", "toe"),
            ("bruise", "sole"),
            ("contracted_heels", "whole_foot"),
        ),
        horse.name,
        "kind",
    )
    return [[pick(FEET, horse.name, "foot"), kind, place]]

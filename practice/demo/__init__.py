"""The demo practice: people and places, read from ``sets``. Everyone in it is
invented; only the towns are real.
"""

import tomllib
from datetime import date, time
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.contrib.auth.hashers import make_password
from django.db import transaction

from practice.errors import Refused
from practice.models import (
    AccessHours,
    ApiToken,
    Area,
    Barn,
    BarnContact,
    Change,
    Client,
    MadeOnce,
    Message,
    Practice,
    RateSlot,
    SignInLink,
    User,
)
from practice.services.practice import create_practice

SETS = ("whinbrae", "tamarack")
PASSWORD = "anvil and rasp"  # noqa: S105 -- printed for everyone: it guards nothing
"""One password for the demo's whole staff, for trying the program out only."""

_FOLDER = Path(__file__).parent / "sets"


def read_set(which: str) -> dict[str, Any]:
    """People and places of one set."""
    return tomllib.loads((_FOLDER / f"{which}.toml").read_text(encoding="utf-8"))


def set_in_house() -> str | None:
    """Which set this installation holds; None where it is no demo."""
    practice = Practice.objects.filter(pk=1, is_demo=True).first()
    if practice is None:
        return None
    names = {read_set(which)["practice"]["name"]: which for which in SETS}
    return names.get(practice.name)


@transaction.atomic
def load(*, today: date, which: str = SETS[0]) -> None:
    """Loads people and places; a set that is loaded already is left as it is.

    Args:
        today: unused here; the rooms above count their days from it.

    Raises:
        Refused: the installation holds another practice.
    """
    if Practice.objects.exists():
        if set_in_house() == which:
            return
        raise Refused(
            f"This installation holds {Practice.objects.the_one().name}, and the demo "
            "loads only into an empty one: name another folder in CLENCHLINE_DATA."
        )
    found = read_set(which)
    about = dict(found["practice"])
    for axis in ("home_latitude", "home_longitude"):
        about[axis] = Decimal(about[axis])
    practice = create_practice(
        name=about.pop("name"), country=about.pop("country"), is_demo=True, **about
    )
    clients = _clients(found, practice)
    areas = _areas(found)
    barns = {
        row["name"]: _barn(row, found, practice, clients, areas)
        for row in found["barns"]
    }
    _users(found["users"], clients, barns)


def _phone(practice: Practice, number: int) -> str:
    """Ofcom's numbers for drama, or those kept for fiction in North America."""
    if practice.country == "US":
        return f"802-555-01{number:02}"
    return f"07700 900{200 + number}"


def _email(name: str) -> str:
    parts = "".join(sign if sign.isalpha() else " " for sign in name.lower()).split()
    return f"{'.'.join(parts)}@example.org"


def _clients(found: dict[str, Any], practice: Practice) -> dict[str, Client]:
    rows: list[dict[str, Any]] = list(found["clients"])
    for town, names in found["people"].items():
        rows += [{"name": name, "town": town} for name in names]
    for number, row in enumerate(rows, start=1):
        Client.objects.create(
            phone=_phone(practice, number),
            email=_email(row["name"]),
            street=f"{number} {row['town']} Road",
            post_code=found["post_codes"][row["town"]],
            country=practice.country,
            **row,
        )
    return {client.name: client for client in Client.objects.all()}


def _areas(found: dict[str, Any]) -> dict[str, Area]:
    return {
        town: area
        for name, towns in found["areas"].items()
        for area in [Area.objects.create(name=name)]
        for town in towns
    }


def _barn(
    row: dict[str, Any],
    found: dict[str, Any],
    practice: Practice,
    clients: dict[str, Client],
    areas: dict[str, Area],
) -> Barn:
    about = dict(row)
    hours = about.pop("hours", [])
    latitude, longitude = about.pop("position", (None, None))
    run_by = about.pop("run_by", None)
    barn = Barn.objects.create(
        post_code=found["post_codes"][row["town"]],
        country=practice.country,
        latitude=Decimal(latitude) if latitude else None,
        longitude=Decimal(longitude) if longitude else None,
        area=areas[row["town"]],
        run_by=clients[run_by] if run_by else None,
        **about,
    )
    AccessHours.objects.bulk_create(
        AccessHours(
            barn=barn,
            weekday=weekday,
            opens=time.fromisoformat(opens),
            closes=time.fromisoformat(closes),
        )
        for weekday, opens, closes in hours
    )
    return barn


def _users(
    rows: list[dict[str, Any]], clients: dict[str, Client], barns: dict[str, Barn]
) -> None:
    """Staff and barn contacts have the demo's password; owners sign in by link."""
    hashed = make_password(PASSWORD)
    for row in rows:
        about = dict(row)
        looks_after = about.pop("barns", [])
        is_owner = about["role"] == User.Role.OWNER
        user = User.objects.create(
            password=make_password(None) if is_owner else hashed,
            client=clients[about["name"]] if is_owner else None,
            **about,
        )
        BarnContact.objects.bulk_create(
            BarnContact(barn=barns[name], user=user) for name in looks_after
        )


def erase() -> None:
    """Takes everything out of this app, for a practice that leaves the demo behind.
    The apps above have erased theirs before.
    """
    for model in (
        *(Message, Change, MadeOnce, BarnContact, AccessHours, SignInLink, RateSlot),
        ApiToken,
        *(User, Barn, Area, Client, Practice),
    ):
        model._default_manager.all().delete()

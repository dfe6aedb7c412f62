"""Rows for tests: keyword-only, complete by default, nothing random."""

from datetime import date, time
from decimal import Decimal
from itertools import count
from typing import Any

from django.utils import timezone

from horses.models import (
    Conformation,
    FootPlan,
    FootRecord,
    Horse,
    Ownership,
    Payer,
    Visit,
    VisitRecord,
    Work,
)
from horses.services.horses import refresh_due_window
from horses.services.plans import save_plan
from horses.shoe.proposal import proposed
from practice.keys import uuid7
from practice.models import (
    AccessHours,
    Area,
    Barn,
    BarnContact,
    Client,
    Practice,
    User,
)

_next = count(1)
LONG_AGO = date(2020, 1, 1)


def make_practice(**over: Any) -> Practice:
    fields: dict[str, Any] = {
        "name": "Test Forge",
        "legal_name": "Test Forge",
        "street": "1 Anvil Row",
        "town": "Testbridge",
        "post_code": "TD1 1AA",
        "country": "GB",
        "email": "forge@example.org",
        "currency": "GBP",
        "time_zone": "Europe/London",
        "tax_registered": True,
        "tax_number": "GB123456789",
        "tax_regime": "GB",
        "home_latitude": Decimal("55.617000"),
        "home_longitude": Decimal("-2.807000"),
    }
    return Practice.objects.create(**{**fields, **over})


def make_user(role: str, **over: Any) -> User:
    n = next(_next)
    fields: dict[str, Any] = {
        "email": f"user{n}@example.org",
        "name": f"User {n}",
        "role": role,
        "password": "a long enough password",
    }
    return User.objects.create_user(**{**fields, **over})


def make_owner(**over: Any) -> User:
    name = over.pop("name", f"Owner {next(_next)}")
    client = over.pop("client", None) or make_client(name=name)
    return make_user("owner", name=name, client=client, **over)


def make_client(**over: Any) -> Client:
    n = next(_next)
    fields: dict[str, Any] = {
        "name": f"Client {n}",
        "email": f"client{n}@example.org",
        "phone": f"07700 900{n % 1000:03}",
        "street": f"{n} Mill Lane",
        "town": "Testbridge",
        "post_code": "TD1 2BB",
        "country": "GB",
    }
    return Client.objects.create(**{**fields, **over})


def make_area(**over: Any) -> Area:
    return Area.objects.create(**{"name": f"Area {next(_next)}", **over})


def make_barn(**over: Any) -> Barn:
    n = next(_next)
    fields: dict[str, Any] = {
        "name": f"Barn {n}",
        "town": "Testbridge",
        "post_code": f"TD{n % 15 + 1} 1AB",
        "country": "GB",
        "latitude": Decimal("55.600000") + Decimal(n % 40) / 400,
        "longitude": Decimal("-2.800000") + Decimal(n % 23) / 300,
    }
    return Barn.objects.create(**{**fields, **over})


def make_access_hours(*, barn: Barn, weekday: int, **over: Any) -> AccessHours:
    fields = {"opens": time(8), "closes": time(16), **over}
    return AccessHours.objects.create(barn=barn, weekday=weekday, **fields)


def make_barn_contact(*, barn: Barn, user: User) -> BarnContact:
    return BarnContact.objects.create(barn=barn, user=user)


def make_work(**over: Any) -> Work:
    n = next(_next)
    fields: dict[str, Any] = {
        "name": f"Full set {n}",
        "kind": Work.Kind.NEW_SHOES,
        "minutes": 60,
    }
    return Work.objects.create(**{**fields, **over})


def make_horse(
    *,
    owner: Client | None = None,
    shares: dict[Client, Any] | None = None,
    today: date | None = None,
    **over: Any,
) -> Horse:
    """A horse with its owner (all of it) or owners by percent, and its due window."""
    n = next(_next)
    fields: dict[str, Any] = {"name": f"Horse {n}", "use": Horse.Use.HACKING}
    if "barn" not in over:
        fields["barn"] = make_barn()
    horse = Horse.objects.create(**{**fields, **over})
    if shares is None:
        shares = {owner or make_client(): 100}
    for client, share in shares.items():
        make_ownership(horse=horse, client=client, share=share)
    refresh_due_window(horse=horse, today=today or timezone.localdate())
    return horse


def make_ownership(*, horse: Horse, client: Client, **over: Any) -> Ownership:
    fields = {"share": Decimal(100), "starts": LONG_AGO, **over}
    return Ownership.objects.create(horse=horse, client=client, **fields)


def make_conformation(*, horse: Horse, **over: Any) -> Conformation:
    """A fore limb that toes out a little, unless said otherwise."""
    fields: dict[str, Any] = {
        "limb": "LF",
        "kind": "axial_rotation",
        "place": "limb",
        "direction": "toes_out",
        "grade": "slight",
        "seen_on": LONG_AGO,
    }
    return Conformation.objects.create(horse=horse, **{**fields, **over})


def make_payer(*, horse: Horse, client: Client, **over: Any) -> Payer:
    return Payer.objects.create(
        horse=horse, client=client, **{"starts": LONG_AGO, **over}
    )


def make_visit(
    *, horses: list[Horse], farrier: User, closed: bool = False, **over: Any
) -> Visit:
    """A visit with an empty record for each horse; closed if asked."""
    fields: dict[str, Any] = {"barn": horses[0].barn, "day": timezone.localdate()}
    visit = Visit.objects.create(farrier=farrier, **{**fields, **over})
    for horse in horses:
        VisitRecord.objects.create(visit=visit, horse=horse, work=horse.usual_work)
    if closed:
        close(visit)
    return visit


def close(visit: Visit) -> None:
    """Closes a visit as the row would look, without the services."""
    visit.state = Visit.State.CLOSED
    visit.closed_at = timezone.now()
    visit.save(update_fields=["state", "closed_at", "changed_at"])


def make_foot_record(
    *, record: VisitRecord, foot: str = "LF", **over: Any
) -> FootRecord:
    fields: dict[str, Any] = {
        "work": FootRecord.Work.TRIM,
        "dorsal_length_mm": Decimal("84.0"),
        "dorsal_angle_deg": Decimal("51.0"),
    }
    return FootRecord.objects.create(record=record, foot=foot, **{**fields, **over})


def make_plan(
    *,
    horse: Horse,
    by: User,
    foot: Any = "LF",
    document: dict[str, Any] | None = None,
    day: date | None = None,
    **over: Any,
) -> FootPlan:
    """A draft of a usual foot with a plain shoe, which no rule speaks against."""
    return save_plan(
        key=uuid7(),
        horse=horse,
        foot=foot,
        day=day or timezone.localdate(),
        document=document or proposed(foot, measured={}).document,
        by=by,
        **over,
    )

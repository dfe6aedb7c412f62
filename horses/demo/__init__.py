"""The demo's horses: two years of visits with plausible feet, by seeded arithmetic."""

import tomllib
from datetime import date
from pathlib import Path

from django.conf import settings
from django.db import transaction

from horses.demo.animals import animals_of_set, limbs_of_set, works_of_practice
from horses.demo.intervals import intervals_of_set
from horses.demo.plans import plans_of_set
from horses.demo.visits import Rows, attend, days_of_barn
from horses.models import (
    DueWindow,
    Finding,
    FootPlan,
    FootRecord,
    Horse,
    HorseInterval,
    IntervalLimits,
    IntervalSettings,
    Ownership,
    Payer,
    Photo,
    ReadRow,
    SheetImport,
    Shoe,
    Visit,
    VisitRecord,
    Work,
)
from horses.photos import small_path
from horses.services.horses import refresh_all_due_windows
from horses.services.intervals import learn_from_records
from practice.demo import set_in_house
from practice.models import Barn, Practice, User

_FOLDER = Path(__file__).parent / "sets"


@transaction.atomic
def load(*, today: date) -> None:
    """Loads the horses of the set that is in the house; does nothing a second time."""
    which = set_in_house()
    if which is None or Horse.objects.exists():
        return
    found = tomllib.loads((_FOLDER / f"{which}.toml").read_text(encoding="utf-8"))
    works = works_of_practice()
    animals = animals_of_set(found, works, today)
    limbs_of_set(found, today)
    rows = Rows()
    farriers = list(User.objects.farriers().order_by("pk"))
    practice = Practice.objects.the_one()
    for at, barn in enumerate(Barn.objects.order_by("pk")):
        stock = [animal for animal in animals if animal.row.barn_id == barn.pk]
        farrier = farriers[at % len(farriers)]
        for on in days_of_barn(barn, found["lags"][at], today):
            known = [animal for animal in stock if animal.is_known(on)]
            attend(rows, practice, barn, farrier, on, known)
    rows.store()
    plans_of_set(found)
    intervals_of_set(found, today)
    learn_from_records(today=today)
    refresh_all_due_windows(today=today)


def erase() -> None:
    """Takes all of this app's rows out, for a practice that leaves the demo behind;
    the files of photos follow once that stands."""
    paths = list(Photo.objects.values_list("path", flat=True))
    for model in (
        *(ReadRow, SheetImport),
        *(FootPlan, Photo, Shoe, Finding, FootRecord, VisitRecord, Visit),
        *(IntervalLimits, IntervalSettings, HorseInterval, DueWindow),
        *(Payer, Ownership, Horse, Work),
    ):
        model._default_manager.all().delete()
    transaction.on_commit(lambda: _unlink(paths))


def _unlink(paths: list[str]) -> None:
    for path in paths:
        for file in (path, small_path(path)):
            (Path(settings.MEDIA_ROOT) / file).unlink(missing_ok=True)

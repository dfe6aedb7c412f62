"""What bringing a sheet in would make and change, as data.

The same plan is shown as a preview and carried out by ``horses.services.sheets``.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from horses.models import ReadRow, VisitRecord
from horses.sheets.matching import Near
from horses.sheets.record import BadRow, SheetRow, digest
from horses.sheets.rows import Reading

STEP = 500  # rows asked for or written in one query


def in_steps(keys: Iterable[Any]) -> Iterable[list[Any]]:
    """The keys in lists that one query can take."""
    several = list(keys)
    for start in range(0, len(several), STEP):
        yield several[start : start + STEP]


@dataclass(slots=True)
class Made:
    """A client, barn or horse of the plan: a new row's fields, or a known row's
    changed ones. ``pk`` is None until a new one is written."""

    pk: int | None
    fields: dict[str, Any]
    is_new: bool

    @property
    def state(self) -> str:
        if self.is_new:
            return "new"
        return "changed" if self.fields else "same"


@dataclass(slots=True)
class HorsePlan(Made):
    """Also its owner and barn, as places in the plan's lists, and its rows."""

    owner: int = 0
    barn: int | None = None
    rows: list[int] = field(default_factory=list)


@dataclass(slots=True)
class VisitPlan:
    """An attendance at a barn (or of an owner's horses, where no barn is named) on a
    day: the horses (places in the plan) that get a record at it."""

    barn: int | None
    day: date
    pk: UUID | None = None
    to_record: dict[int, None] = field(default_factory=dict)  # in order, each once

    @property
    def state(self) -> str:
        if self.pk is None:
            return "new"
        return "changed" if self.to_record else "same"


@dataclass(slots=True)
class Plan:
    """The whole of it. ``said_before`` gives, by row, the row read before that it
    is; ``moved`` the imported records whose day the sheet now corrects."""

    reading: Reading
    rows: list[SheetRow]
    bad: list[BadRow]
    near: list[Near]
    clients: list[Made]
    barns: list[Made]
    horses: list[HorsePlan]
    visits: list[VisitPlan]
    owner_of_row: Sequence[int | None]
    barn_of_row: Sequence[int | None]
    horse_of_row: list[int]
    identities: list[str]
    said_before: Mapping[int, ReadRow]
    moved: list[VisitRecord] = field(default_factory=list)

    def counts(self) -> dict[str, dict[str, int]]:
        """How many of each are new, changed, the same."""
        kinds: dict[str, Sequence[Made | VisitPlan]] = {
            "clients": self.clients,
            "barns": self.barns,
            "horses": self.horses,
            "visits": self.visits,
        }
        return {
            kind: {
                state: sum(one.state == state for one in several)
                for state in ("new", "changed", "same")
            }
            for kind, several in kinds.items()
        }

    @property
    def changes_nothing(self) -> bool:
        """Whether carrying it out would leave every row as it is."""
        counts = self.counts().values()
        stands = all(not kind["new"] and not kind["changed"] for kind in counts)
        return stands and all(
            place in self.said_before and self.said_before[place].said == said
            for place, said in enumerate(digest(row.values()) for row in self.rows)
        )

"""Reads a sheet and compares it with what the practice has: reads alone."""

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from horses.models import Horse, Ownership, ReadRow, Work
from horses.services.sheet_plan import HorsePlan, Made, Plan, in_steps
from horses.services.sheet_visits import plan_visits
from horses.sheets.fields import Field, score_headings
from horses.sheets.matching import (
    Before,
    Group,
    Known,
    Matched,
    horses_twice,
    match_barns,
    match_clients,
    pair_with_before,
)
from horses.sheets.reading import read_grid
from horses.sheets.record import SheetRow, Terms, digest
from horses.sheets.rows import Reading, read_rows
from horses.sheets.words import use_of, work_of
from practice.models import Barn, Client
from practice.names import email_key, name_key, phone_key, post_code_key, squeeze


def plan_sheet(
    *,
    data: bytes,
    terms: Terms,
    mapping: Mapping[str, str | None],
    answers: Mapping[str, bool],
) -> Plan:
    """Reads a sheet and compares it with what the practice has.

    Raises:
        NotASheet, BadMapping: with one sentence each.
    """
    grid = read_grid(data, lambda cells: score_headings(cells, mapping))
    reading = read_rows(grid, terms, mapping)
    return _Planner(reading, terms, answers).plan()


class _Planner:
    def __init__(
        self, reading: Reading, terms: Terms, answers: Mapping[str, bool]
    ) -> None:
        self.reading = reading
        self.terms = terms
        self.answers = answers
        self.clients_known = _rows_by_pk(Client.objects.all())
        self.barns_known = _rows_by_pk(Barn.objects.all())
        self.rows = list(reading.rows)
        self.bad = list(reading.bad)
        self._pair()

    def plan(self) -> Plan:
        self._drop_contradictions()
        owners = self._match_owners()
        barns = self._match_barns(owners)
        clients = [self._client(group) for group in owners.groups]
        places = [self._barn(group) for group in barns.groups]
        horses, horse_of_row = self._horses(owners, barns)
        visits, moved = plan_visits(
            rows=self.rows,
            horses=horses,
            horse_of_row=horse_of_row,
            barn_of_row=barns.of_row,
            owner_of_row=owners.of_row,
            barn_pks=[place.pk for place in places],
            said_before=self.said_before,
        )
        return Plan(
            reading=self.reading,
            rows=self.rows,
            bad=sorted(self.bad, key=lambda row: row.line),
            near=[*owners.near, *barns.near],
            clients=clients,
            barns=places,
            horses=horses,
            owner_of_row=owners.of_row,
            barn_of_row=barns.of_row,
            horse_of_row=horse_of_row,
            identities=self.identities,
            said_before=self.said_before,
            visits=visits,
            moved=moved,
        )

    # --- which is which ---

    def _pair(self) -> None:
        """Finds, for each row, the row read before that it is."""
        self.identities = [row.identity() for row in self.rows]
        said = [digest(row.values()) for row in self.rows]
        kept: dict[int, ReadRow] = {}
        for some in in_steps(dict.fromkeys(self.identities)):
            # One whose horse is gone is forgotten: the row makes it anew.
            found = ReadRow.objects.filter(identity__in=some, horse__isnull=False)
            kept.update((row.pk, row) for row in found.select_related("record__visit"))
        before = [
            Before(r.identity, r.said, r.pk, r.client_id, r.barn_id, r.horse_id)
            for r in sorted(kept.values(), key=lambda row: row.pk)
        ]
        self.before = pair_with_before(self.identities, said, before)
        self.said_before = {place: kept[b.pk] for place, b in self.before.items()}

    def _match_owners(self) -> Matched:
        known = [
            Known(pk, row["name"], email=row["email"], phone=row["phone"])
            for pk, row in self.clients_known.items()
        ]
        return match_clients(
            self.rows, known, self.before, self.answers, self.terms.country
        )

    def _match_barns(self, owners: Matched) -> Matched:
        known = [
            Known(pk, row["name"], post_code=row["post_code"])
            for pk, row in self.barns_known.items()
        ]
        return match_barns(self.rows, known, self.before, self.answers, owners.of_row)

    def _drop_contradictions(self) -> None:
        """Takes out rows that name an earlier row's horse but contradict it."""
        owners = self._match_owners()
        heading = next(
            column.heading
            for column in self.reading.columns
            if column.field == Field.HORSE
        )
        twice = horses_twice(self.rows, owners.of_row, self.before, heading)
        if twice:
            self.bad.extend(twice.values())
            self.rows = [r for at, r in enumerate(self.rows) if at not in twice]
            self._pair()

    # --- what each says ---

    def _stated(self, place: int, *names: str, anew: bool = False) -> dict[str, Any]:
        """Of these values of a row those that it states and didn't state before;
        ``anew``: all that it states, since what it speaks of is to be made."""
        values = self.rows[place].values()
        before = None if anew else self.said_before.get(place)
        old = before.values if before else {}
        return {
            name: values[name]
            for name in names
            if values[name] and values[name] != old.get(name)
        }

    def _first_stated(self, group: Group, *names: str) -> dict[str, Any]:
        stated: dict[str, Any] = {}
        for place in group.rows:
            found = self._stated(place, *names, anew=group.pk is None)
            for name, value in found.items():
                stated.setdefault(name, value)
        return stated

    def _client(self, group: Group) -> Made:
        names = ("phone", "email", "owner_street", "owner_town", "owner_post_code")
        stated = {
            name.removeprefix("owner_"): value
            for name, value in self._first_stated(group, *names).items()
        }
        if group.pk is None:
            country = {"country": self.terms.country}
            return Made(None, {"name": group.name, **country, **stated}, is_new=True)
        known = self.clients_known[group.pk]
        return Made(group.pk, self._differing(known, stated), is_new=False)

    def _barn(self, group: Group) -> Made:
        names = ("barn_street", "barn_town", "barn_post_code", "position")
        stated = {
            name.removeprefix("barn_"): value
            for name, value in self._first_stated(group, *names).items()
        }
        if "position" in stated:
            at = next(
                row.position
                for row in map(self.rows.__getitem__, group.rows)
                if row.position and row.values()["position"] == stated["position"]
            )
            stated.pop("position")
            stated["latitude"], stated["longitude"] = at
        if group.pk is None:
            country = {"country": self.terms.country}
            return Made(None, {"name": group.name, **country, **stated}, is_new=True)
        known = self.barns_known[group.pk]
        return Made(group.pk, self._differing(known, stated), is_new=False)

    def _differing(
        self, known: Mapping[str, Any], stated: Mapping[str, Any]
    ) -> dict[str, Any]:
        """What is stated and isn't so already; another spelling of the same e-mail,
        phone or post code is the same."""
        country = self.terms.country

        def key(name: str, value: Any) -> Any:
            if name == "email":
                return email_key(value)
            if name == "phone":
                return phone_key(value, country) or squeeze(value)
            return post_code_key(value) if name == "post_code" else value

        return {
            name: value
            for name, value in stated.items()
            if key(name, known[name]) != key(name, value)
        }

    # --- horses ---

    def _horses(
        self, owners: Matched, barns: Matched
    ) -> tuple[list[HorsePlan], list[int]]:
        known = _HorsesKnown(self.before, owners)
        plans: dict[tuple[Any, ...], HorsePlan] = {}
        order: dict[int, tuple[Any, ...]] = {}
        for place, row in enumerate(self.rows):
            owner = owners.of_row[place]
            horse = known.find(place, row, owner)
            mark = ("pk", horse.pk) if horse else (owner, name_key(row.horse))
            order[place] = mark
            if mark not in plans:
                plans[mark] = HorsePlan(
                    horse.pk if horse else None, {}, not horse, owner=owner or 0
                )
            plans[mark].rows.append(place)
        works = _Works()
        for plan in plans.values():
            horse = known.by_pk.get(plan.pk) if plan.pk else None
            self._fill_horse(plan, horse, barns, works)
        number = {mark: at for at, mark in enumerate(plans)}
        return list(plans.values()), [number[order[p]] for p in range(len(self.rows))]

    def _fill_horse(
        self, plan: HorsePlan, horse: Horse | None, barns: Matched, works: "_Works"
    ) -> None:
        """The horse's fields as its rows state them; a later row adds to the first."""
        stated: dict[str, Any] = {}
        notes: list[str] = []
        for place in plan.rows:
            for name, value in self._horse_fields(place, works).items():
                stated.setdefault(name, value)
            if self._stated(place, "barn", "barn_post_code", "position"):
                plan.barn = barns.of_row[place] if plan.barn is None else plan.barn
            said = self._stated(place, "notes").get("notes")
            if said and said not in notes:
                notes.append(said)
                before = self.said_before.get(place)
                told = before.values.get("notes", "") if before else ""
                stated["notes"] = _with_notes(
                    stated.get("notes", horse.notes if horse else ""), told, said
                )
        if horse is None:
            plan.fields = {"name": self.rows[plan.rows[0]].horse, **stated}
            return
        plan.fields = {
            name: value
            for name, value in stated.items()
            if getattr(horse, name) != value
        }
        group = barns.groups[plan.barn] if plan.barn is not None else None
        if group is not None and (group.pk is None or group.pk != horse.barn_id):
            plan.fields["barn"] = plan.barn  # replaced by the row when it is written

    def _horse_fields(self, place: int, works: "_Works") -> dict[str, Any]:
        row = self.rows[place]
        stated = self._stated(
            place, "breed", "foaled", "use", "weeks", "usual_work", "price"
        )
        fields: dict[str, Any] = {}
        if "breed" in stated:
            fields["breed"] = row.breed
        if "foaled" in stated:
            fields["foaled_year"] = row.foaled_year
            if row.foaled_on:
                fields["foaled_on"] = row.foaled_on
        if "use" in stated:
            fields["use"] = use_of(row.use)
            plain = name_key(row.use) == name_key(fields["use"])
            fields["use_note"] = "" if plain else row.use
        if "weeks" in stated:
            fields["interval_weeks"] = row.weeks
        if "usual_work" in stated:
            fields["usual_work_id"], fields["usual_work_note"] = works.find(
                row.usual_work
            )
        if "price" in stated:
            fields["agreed_price"] = row.price
        return fields


class _HorsesKnown:
    """The practice's horses that the rows may speak of: those that they made when
    they were read before, and those of the owners that are known."""

    def __init__(self, before: Mapping[int, Before], owners: Matched) -> None:
        self.before = before
        self.owners = owners
        made = {b.horse for b in before.values() if b.horse is not None}
        clients = {group.pk for group in owners.groups if group.pk is not None}
        self.by_pk: dict[int, Horse] = {}
        self.by_name: dict[tuple[int, str], list[Horse]] = {}
        for some in in_steps(made):
            self.by_pk.update(Horse.objects.in_bulk(some))
        for some in in_steps(clients):
            shares = Ownership.objects.filter(client__in=some, ends__isnull=True)
            for share in shares.select_related("horse").order_by("horse"):
                horse = self.by_pk.setdefault(share.horse_id, share.horse)
                mark = (share.client_id, name_key(horse.name))
                self.by_name.setdefault(mark, []).append(horse)

    def find(self, place: int, row: SheetRow, owner: int | None) -> Horse | None:
        made = self.before[place].horse if place in self.before else None
        if made is not None and made in self.by_pk:
            return self.by_pk[made]
        client = self.owners.groups[owner].pk if owner is not None else None
        if client is None:
            return None
        found = self.by_name.get((client, name_key(row.horse)), [])
        return found[0] if found else None


class _Works:
    """The practice's kinds of work, found by name or by what the words mean."""

    def __init__(self) -> None:
        works = list(Work.objects.active().on_horses())
        self.by_name = {name_key(work.name): work for work in works}
        self.by_kind: dict[str, list[Work]] = {}
        for work in works:
            self.by_kind.setdefault(work.kind, []).append(work)

    def find(self, text: str) -> tuple[int | None, str]:
        """The work's key and the words to keep beside it."""
        kind, plainest = work_of(text)
        for name in (text, plainest):
            if named := self.by_name.get(name_key(name)):
                same = name_key(named.name) == name_key(text)
                return named.pk, "" if same else text
        alike = self.by_kind.get(kind, [])
        return (alike[0].pk if len(alike) == 1 else None), text


def _with_notes(notes: str, told_before: str, said: str) -> str:
    """Notes with what the sheet says now instead of what it said before."""
    if said in notes:
        return notes
    if told_before and told_before in notes:
        return notes.replace(told_before, said)
    return f"{notes}\n{said}" if notes else said


_COMPARED = (
    *("name", "email", "phone", "street", "town", "post_code"),
    *("latitude", "longitude"),
)


def _rows_by_pk(rows: "QuerySet[Any]") -> dict[int, dict[str, Any]]:
    has = {one.name for one in rows.model._meta.concrete_fields}
    names = [name for name in _COMPARED if name in has]
    return {row["pk"]: row for row in rows.order_by("pk").values("pk", *names)}

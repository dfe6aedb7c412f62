"""``manage.py import_records FILE``: brings a practice's sheet in."""

import json
import sys
from argparse import ArgumentParser
from collections.abc import Collection
from dataclasses import asdict
from pathlib import Path
from typing import Any, Never
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand
from django.db import DatabaseError, transaction
from django.utils import timezone
from phonenumbers import SUPPORTED_REGIONS

from horses.services.sheet_plan import Plan
from horses.services.sheet_planner import plan_sheet
from horses.services.sheets import bring_in, terms_for
from horses.sheets.dates import Order
from horses.sheets.fields import BadMapping, parse_mapping
from horses.sheets.grid import NotASheet
from horses.sheets.matching import Near
from horses.sheets.record import Terms
from practice.countries import proposals
from practice.models import Practice
from practice.services.practice import create_practice

NEW_NAME = "My practice"  # changed on the settings page


class Command(BaseCommand):
    help = (
        "Bring in a sheet (.csv, .xlsx) of one row per horse: owner, barn, horse, last "
        "visit, interval, usual work, price, notes. Good rows come in together, bad "
        "rows are reported. Bringing the same sheet in twice changes nothing."
    )

    requires_system_checks = []  # no page is needed
    same: Collection[str] = ()
    """Keys of the near matches that somebody has just called the same."""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", help="- reads standard input")
        parser.add_argument(
            "--dry-run", action="store_true", help="report alone, change nothing"
        )
        parser.add_argument(
            "--mapping",
            metavar="FILE",
            help='JSON: heading → field or null (kept as a note), {"Nag": "horse"}',
        )
        parser.add_argument(
            "--json",
            action="store_true",
            help="print one JSON object; nothing is asked",
        )
        parser.add_argument(
            "--country",
            metavar="XX",
            default="",
            help="ISO 3166 code by whose customs dates, numbers and phones are read; "
            "a practice that isn't there yet is made in it (GB)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            plan = self._plan(options)
        except (NotASheet, BadMapping) as error:
            self._refuse(str(error))
        except DatabaseError as error:
            text = " ".join(str(error).split())
            self._refuse(f"The database refuses: {text}. Has `migrate` been run?")
        if options["json"]:
            self.stdout.write(json.dumps(as_json(plan), ensure_ascii=False, indent=2))
        else:
            self._tell(plan, dry_run=options["dry_run"])

    def _plan(self, options: dict[str, Any]) -> Plan:
        country = self._country(options["country"])
        data = self._bytes(options["file"])
        mapping = self._mapping(options["mapping"])
        practice = Practice.objects.filter(pk=1).first()
        country = country or (practice.country if practice else "GB")
        zone = practice.zone if practice else proposals(country).time_zone
        today = timezone.localdate(timezone=_zone(zone))
        terms = terms_for(practice=practice, country=country, today=today)
        name = "standard input" if options["file"] == "-" else options["file"]
        answers: dict[str, bool] = {}
        goes_on = not options["dry_run"]
        if not options["json"] and self._may_ask():
            terms, answers, said = self._ask(data, terms, mapping, goes_on)
            goes_on = goes_on and said
        if not goes_on:
            options["dry_run"] = True
            return plan_sheet(data=data, terms=terms, mapping=mapping, answers=answers)
        with transaction.atomic():
            if practice is None:
                create_practice(name=NEW_NAME, country=country)
            return bring_in(
                name=Path(name).name,
                data=data,
                terms=terms,
                mapping=mapping,
                answers=answers,
                by=None,
            )

    # --- what the command line says ---

    def _country(self, code: str) -> str:
        code = code.strip().upper()
        if code and code not in SUPPORTED_REGIONS:
            self._refuse(
                f"'{code[:20]}' is no country: give an ISO 3166 code such as GB or US."
            )
        return code

    def _bytes(self, file: str) -> bytes:
        if file == "-":
            return sys.stdin.buffer.read()
        try:
            return Path(file).read_bytes()
        except OSError as error:
            self._refuse(f"{file[:200]} can't be read: {error.strerror}.")

    def _mapping(self, file: str | None) -> dict[str, str | None]:
        if not file:
            return {}
        try:
            return parse_mapping(Path(file).read_text(encoding="utf-8-sig"))
        except OSError as error:
            self._refuse(f"{file[:200]} can't be read: {error.strerror}.")
        except UnicodeDecodeError:
            self._refuse(f"{file[:200]} is no JSON in UTF-8.")

    def _refuse(self, line: str) -> Never:
        self.stderr.write(" ".join(line.split()))
        raise SystemExit(2)

    # --- asking ---

    @staticmethod
    def _may_ask() -> bool:
        return sys.stdin.isatty() and sys.stdout.isatty()

    def _ask(
        self,
        data: bytes,
        terms: Terms,
        mapping: dict[str, str | None],
        may_go_on: bool,
    ) -> tuple[Terms, dict[str, bool], bool]:
        """The order of day and month where it is open, then each near match, then
        whether to go on if that is open too."""
        plan = plan_sheet(data=data, terms=terms, mapping=mapping, answers={})
        asked = plan.reading.asked
        if asked:
            first = asked.order == Order.DAY_FIRST
            said = input(
                f"Is {asked.example} written day first? [{'Y/n' if first else 'y/N'}] "
            )
            day_first = _yes(said, default=first)
            order = Order.DAY_FIRST if day_first else Order.MONTH_FIRST
            terms = Terms(terms.country, terms.decimals, terms.today, order)
            plan = plan_sheet(data=data, terms=terms, mapping=mapping, answers={})
        answers = {}
        for near in plan.near:
            said = input(f"{_near_line(near)} The same? [y/N, q: ask no more] ")
            if said.strip().lower().startswith("q"):
                break
            answers[near.key] = _yes(said, default=False)
        self.same = {key for key, is_same in answers.items() if is_same}
        if not may_go_on:
            return terms, answers, False
        good, bad = len(plan.rows), len(plan.bad)
        said = input(f"{good} good rows, {bad} bad. Bring the good rows in? [Y/n] ")
        return terms, answers, _yes(said, default=True)

    # --- telling ---

    def _tell(self, plan: Plan, *, dry_run: bool) -> None:
        write = self.stdout.write
        write("What would come in:" if dry_run else "Brought in:")
        for what, counts in plan.counts().items():
            several = ", ".join(f"{n} {state}" for state, n in counts.items())
            write(f"  {what}: {several}")
        for heading, order in plan.reading.orders.items():
            if order.asked:
                said = order.order.replace("_", " ")
                write(f"{heading}: days such as {order.example} were read {said}.")
        write(_several(len(plan.bad), "bad row") + (":" if plan.bad else "."))
        for row in plan.bad:
            said = f"{row.column} '{row.value}': " if row.column else ""
            write(f"  line {row.line}: {said}{row.message}")
        same = [near for near in plan.near if near.key in self.same]
        apart = [near for near in plan.near if near.key not in self.same]
        for nears, what in (
            (same, "taken as the same"),
            (apart, "kept apart unless said otherwise"),
        ):
            if nears:
                write(f"{_several(len(nears), 'near match', 'es')}, {what}:")
            for near in nears:
                write(f"  {_near_line(near)}")


def as_json(plan: Plan) -> dict[str, Any]:
    """The report for programs."""
    return {
        **plan.counts(),
        "rows_bad": [asdict(row) for row in plan.bad],
        "near_matches": [
            {
                "kind": near.kind,
                "line": near.line,
                "name": near.name,
                "like": near.like,
                "like_line": near.like_line,
                "score": near.score,
            }
            for near in plan.near
        ],
    }


def _near_line(near: Near) -> str:
    there = f"line {near.like_line}" if near.like_line else "the practice's own"
    return (
        f"line {near.line}: {near.kind} '{near.name}' is like '{near.like}' ({there})."
    )


def _several(count: int, what: str, ending: str = "s") -> str:
    return f"{count} {what}{'' if count == 1 else ending}"


def _yes(said: str, *, default: bool) -> bool:
    said = said.strip().lower()
    return said.startswith("y") if said else default


def _zone(zone: ZoneInfo | str) -> ZoneInfo:
    return ZoneInfo(zone) if isinstance(zone, str) else zone

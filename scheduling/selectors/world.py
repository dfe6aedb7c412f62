"""The world that weeks are proposed for, read from the practice's rows: who is due, what
is booked, who drives out when, which barns are open."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import cast

import numpy as np
from django.utils import timezone

from horses.models import DueWindow, Horse
from practice.errors import Refused
from practice.geo import Position, drive_estimate
from practice.models import Barn
from scheduling.models import Booking
from scheduling.planner.weeks import Booking as Booked
from scheduling.planner.weeks import (
    Instance,
    Shift,
    Status,
    Visit,
)
from scheduling.selectors.handling import (
    barn_limits,
    handling_of,
    lodgings,
    minutes_at,
)
from scheduling.selectors.hours import work_hours
from scheduling.selectors.plans import home_of, position_of
from scheduling.selectors.weights import weights_in_use
from scheduling.selectors.world_rows import (
    Asked,
    Rows,
    Window,
    back_on,
    bookings_in,
    due_in,
    may_treat,
    minute_of,
    only_on,
    open_hours_of,
    people_for,
    preferred,
    said_day,
)
from scheduling.weeks.changes import broken_rounds, stands_on
from scheduling.weeks.jobs import DueAnimal, Piece, cut, longest_visit
from scheduling.weeks.world import Job, JobHorse, Outside, World

NO_HOME = (
    "Nobody has said where home is. Give its place in the practice's settings first."
)


class Gathered:
    """Everything but the travel: ``points`` say between which places it is wanted."""

    def __init__(self, asked: Asked, rows: Rows, *, today: date) -> None:
        home = home_of(asked.practice)
        if home is None:
            raise Refused(NO_HOME)
        self.asked, self.rows, self.today = asked, rows, today
        self.weights = replace(rows.weights, keep_together=float(asked.together))
        self.points: list[Position] = [home]
        self.outside: list[Outside] = []
        self._index: dict[Position, int] = {home: 0}
        self.shifts = [shift for shift in self._shifts() if shift]
        self._usual = tuple(self.shifts)
        self.jobs: dict[str, Job] = {}
        self.visits: list[Visit] = []
        self._take_bookings()
        self._take_due()

    def _shifts(self) -> Iterable[Shift | None]:
        for (farrier, day), hours in sorted(self.rows.hours.items()):
            if not hours.drives_out:
                continue
            start, end = self.rows.beds.get((farrier, day), (None, None))
            yield Shift(
                day=day,
                farrier=str(farrier),
                start=minute_of(hours.starts),
                end=minute_of(hours.ends),
                leaves_from=self._place(start),
                returns_to=self._place(end),
                break_minutes=hours.break_minutes,
                people=hours.people,
                area=hours.area or None,
            )

    def _place(self, at: Position | None) -> int:
        if at is None:
            return 0
        if at not in self._index:
            self._index[at] = len(self.points)
            self.points.append(at)
        return self._index[at]

    def _take_bookings(self) -> None:
        """Days with something attended, or with a barn whose place nobody knows, are
        left as they are: nobody can reckon them through."""
        frozen: dict[tuple[str, date], str] = {}
        for row in self.rows.bookings:
            place = (str(row.farrier_id), row.day)
            if row.is_attended:
                frozen[place] = "is under way already"
            elif not row.barn.has_position:
                frozen[place] = f"goes to {row.barn.name}, which has no position"
            elif row.starts_at is None:
                frozen[place] = "has a booking without a time"
        self.freeze(frozen)
        kept = {(shift.farrier, shift.day) for shift in self.shifts}
        for row in self.rows.bookings:
            if (str(row.farrier_id), row.day) in kept:
                self._take_booking(row)
            elif (str(row.farrier_id), row.day) not in frozen:
                self._tell(row, "is booked on a day off; it stays as it is.")

    def freeze(self, why: Mapping[tuple[str, date], str]) -> None:
        """Takes these days out, with a sentence each."""
        names = {str(one.pk): one.name for one in self.asked.farriers}
        for (farrier, day), because in sorted(why.items(), key=lambda one: one[0][1]):
            said = f"{names[farrier]}’s round on {said_day(day)} {because}"
            self.outside.append(Outside(said_day(day), f"{said}: it stays as it is."))
        self.shifts = [s for s in self.shifts if (s.farrier, s.day) not in why]

    def _tell(self, row: Booking, because: str) -> None:
        names = tuple(one.horse.name for one in row.booked.all())
        said = f"{row.barn.name} on {said_day(row.day)} {because}"
        self.outside.append(Outside(row.barn.name, said, names, row.barn_id))

    def _take_booking(self, row: Booking) -> None:
        horses = [one.horse for one in row.booked.all()]
        windows = [self._window(horse) or only_on(row.day) for horse in horses]
        may = may_treat(self.rows.handling, horses)
        fixed = not self._may_move(row)
        earliest = max((w.earliest for w in windows), default=row.day)
        latest = min((w.latest for w in windows), default=row.day)
        latest = self.asked.last if latest < self.asked.first else latest
        target = max((w.target for w in windows), default=row.day)
        earliest, latest = min(earliest, row.day), max(latest, row.day)
        minutes = sum(minutes_at(horse, self.rows.handling) for horse in horses)
        if minutes > self._longest(row.barn):
            # Parted by the break between two horses, as the day's own plan times it.
            minutes += self._rest_inside(row)
        assert row.starts_at
        begin = timezone.localtime(row.starts_at, self.asked.practice.zone).time()
        status = Booking.Status.AGREED.value if fixed else str(row.status)
        farrier = str(row.farrier_id)
        self._add(
            Job(
                id=str(row.pk),
                barn=row.barn_id,
                name=row.barn.name,
                horses=tuple(
                    JobHorse(h.pk, h.name, w.earliest, w.target, w.latest)
                    for h, w in zip(horses, windows, strict=True)
                ),
                booking=str(row.pk),
                status=status,
                area=row.barn.area.name if row.barn.area else "",
            ),
            row.barn,
            minutes=minutes,
            window=Window(earliest, min(max(target, earliest), latest), latest),
            may=None if may is None else may | {farrier},
            booked=Booked(row.day, minute_of(begin), farrier, cast("Status", status)),
            prefers=preferred(self.rows.handling, horses),
            people=1 if fixed else people_for(self.rows.handling, horses),
        )

    def _may_move(self, row: Booking) -> bool:
        if row.status == Booking.Status.PENCILLED:
            return self.asked.may_move in ("pencilled", "asked")
        return row.status == Booking.Status.ASKED and self.asked.may_move == "asked"

    def _take_due(self) -> None:
        barns: dict[Barn, list[Horse]] = {}
        for horse in self.rows.horses:
            assert horse.barn
            barns.setdefault(horse.barn, []).append(horse)
        for barn, horses in barns.items():
            if barn.has_position:
                self._take_barn(barn, horses)
                continue
            names = tuple(horse.name for horse in horses)
            said = f"{barn.name} has no position. Give it one, then propose anew."
            self.outside.append(Outside(barn.name, said, names, barn.pk))

    def _take_barn(self, barn: Barn, horses: Sequence[Horse]) -> None:
        windows = {horse.pk: self._window(horse) for horse in horses}
        by_key = {horse.pk: horse for horse in horses}
        animals = []
        for horse in horses:
            window = windows[horse.pk]
            if window and window.earliest <= self.asked.last:
                animals.append(self._animal(horse, window))
        pieces = cut(animals, most_minutes=self._longest(barn), weights=self.weights)
        for piece in pieces:
            self._take_piece(barn, piece, by_key, windows)

    def _longest(self, barn: Barn) -> int:
        at = position_of(barn)
        assert at
        drive = drive_estimate(self.points[0], at).minutes
        return longest_visit(self._usual, drive=drive, setup=barn.setup_minutes)

    def _rest_inside(self, row: Booking) -> int:
        """Takes the day's break into the booking; its minutes."""
        key = (row.day, str(row.farrier_id))
        at = next(i for i, shift in enumerate(self.shifts) if shift.key == key)
        rest = self.shifts[at].break_minutes
        self.shifts[at] = replace(self.shifts[at], break_minutes=0)
        return rest

    def _animal(self, horse: Horse, window: Window) -> DueAnimal:
        handling = self.rows.handling.get(horse.pk)
        return DueAnimal(
            key=horse.pk,
            earliest=self._offset(window.earliest),
            target=self._offset(window.target),
            latest=self._offset(window.latest),
            minutes=minutes_at(horse, self.rows.handling),
            may_treat=handling.may_treat if handling else frozenset(),
            preferred=handling.preferred if handling else None,
            needs_two=bool(handling and handling.needs_two),
        )

    def _take_piece(
        self,
        barn: Barn,
        piece: Piece,
        by_key: Mapping[int, Horse],
        windows: Mapping[int, Window | None],
    ) -> None:
        horses = [by_key[animal.key] for animal in piece.horses]
        told = [
            JobHorse(horse.pk, horse.name, own.earliest, own.target, own.latest)
            for horse in horses
            if (own := windows[horse.pk])
        ]
        self._add(
            Job(
                id=f"{barn.pk}.{piece.horses[0].key}",
                barn=barn.pk,
                name=barn.name,
                horses=tuple(told),
                area=barn.area.name if barn.area else "",
            ),
            barn,
            minutes=piece.minutes,
            window=Window(
                self._day(piece.earliest),
                self._day(piece.target),
                self._day(piece.latest),
            ),
            may=may_treat(self.rows.handling, horses),
            booked=None,
            prefers=preferred(self.rows.handling, horses),
            people=people_for(self.rows.handling, horses),
        )

    def _add(
        self,
        job: Job,
        barn: Barn,
        *,
        minutes: int,
        window: Window,
        may: frozenset[str] | None,
        booked: Booked | None,
        prefers: str | None,
        people: int,
    ) -> None:
        limits = self.rows.limits.get(barn.pk)
        closed = limits.closed if limits else ()
        not_on = {
            day
            for day in self.asked.days
            for first, last, *_ in closed
            if first <= day <= last
        }
        if booked:
            not_on.discard(booked.day)
        self.jobs[job.id] = job
        self.visits.append(
            Visit(
                id=job.id,
                place=self._place(position_of(barn)),
                minutes=minutes,
                earliest=window.earliest,
                target=window.target,
                latest=window.latest,
                setup_minutes=barn.setup_minutes,
                weight=float(max(1, len(job.horses))),
                hours=open_hours_of(barn),
                finish_by={
                    weekday - 1: minute for weekday, minute in limits.finish_by.items()
                }
                if limits
                else {},
                not_on=frozenset(not_on),
                farriers=may,
                booked=booked,
                people=people,
                prefers=prefers,
                area=job.area or None,
                site=barn.pk,
            )
        )

    def _window(self, horse: Horse) -> Window | None:
        """The horse's window as it counts here: due today without a visit, not while
        it is away, and to the end of the horizon once it is too late already."""
        window = getattr(horse, "due_window", None)
        if window is None:
            return None
        earliest, target, latest = window.earliest, window.target, window.latest
        if window.basis == DueWindow.Basis.NO_VISIT:
            latest = self.today + (latest - target)
            earliest = target = self.today
        back = self.rows.away.get(horse.pk)
        if back and back > earliest:
            length = latest - target
            earliest, target = back, max(target, back)
            latest = max(latest, target + length)
        if latest < self.asked.first:
            latest = self.asked.last
        return Window(earliest, target, latest)

    def _offset(self, day: date) -> int:
        return (day - self.asked.first).days

    def _day(self, offset: int) -> date:
        return self.asked.first + timedelta(days=offset)

    def world(self, minutes: np.ndarray, metres: np.ndarray) -> World:
        """The world with its travel: minutes and metres between ``points``.

        A day whose bookings can't be kept as they are (they break a rule already) is
        taken out first: the planner mends no rule, and must not break one.
        """
        broken = broken_rounds(self._instance(minutes))
        if broken:
            self.freeze(dict.fromkeys(broken, "breaks a rule already"))
            gone = {v.id for v in self.visits if stands_on(v) in broken}
            self.visits = [visit for visit in self.visits if visit.id not in gone]
        return World(
            instance=self._instance(minutes),
            jobs={visit.id: self.jobs[visit.id] for visit in self.visits},
            metres=np.asarray(metres),
            places=tuple((at.lat, at.lon) for at in self.points),
            farriers={str(one.pk): one.name for one in self.asked.farriers},
            first=self.asked.first,
            last=self.asked.last,
            outside=tuple(self.outside),
        )

    def _instance(self, minutes: np.ndarray) -> Instance:
        return Instance(
            shifts=tuple(self.shifts),
            visits=tuple(self.visits),
            minutes=np.asarray(minutes),
            weights=self.weights,
        )


def gather(asked: Asked, *, today: date) -> Gathered:
    """Reads the world of these weeks; the travel comes after. About fifteen queries.

    Raises:
        Refused: nobody has said where home is.
    """
    farriers = asked.farriers
    bookings = list(bookings_in(asked))
    horses = list(due_in(asked))
    booked = [one.horse for row in bookings for one in row.booked.all()]
    barns = {h.barn for h in horses if h.barn} | {row.barn for row in bookings}
    rows = Rows(
        hours=work_hours(farriers=farriers, days=asked.days),
        horses=horses,
        bookings=bookings,
        handling=handling_of([*horses, *booked]),
        limits=barn_limits(barns, asked.first, asked.last),
        beds=lodgings(farriers, asked.days),
        away=back_on([*horses, *booked], today=today),
        weights=weights_in_use(),
    )
    return Gathered(asked, rows, today=today)

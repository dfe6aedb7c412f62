"""The world that weeks are proposed for, read from the practice's rows: who is due, what
is booked, who drives out when, which barns are open."""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from horses.models import DueWindow, Horse
from practice.errors import Refused
from practice.geo import Position, drive_estimate
from practice.models import Barn, Practice, User
from scheduling.models import Away, BookedHorse, Booking
from scheduling.planner.judge import time_shift
from scheduling.planner.weeks import (
    BREAK_FROM,
    BREAK_UNTIL,
    Instance,
    Shift,
    Visit,
    Weights,
)
from scheduling.planner.weeks import Booking as Booked
from scheduling.selectors.handling import (
    BarnLimits,
    Handling,
    barn_limits,
    handling_of,
    lodgings,
)
from scheduling.selectors.hours import WorkHours, work_hours
from scheduling.selectors.plans import home_of, minutes_of, position_of
from scheduling.weeks.jobs import DueAnimal, Piece, cut
from scheduling.weeks.world import Job, JobHorse, Outside, World

OTHER_FARRIER = 20.0
OTHER_AREA = 20.0
"""What it weighs, in minutes of driving, to send another farrier than the preferred
one, or to leave the day's area. Ours."""
LEAST_VISIT = 60
"""No visit is cut shorter than this, however far the barn. Ours."""
NO_HOME = (
    "Nobody has said where home is. Give its place in the practice's settings first."
)


@dataclass(frozen=True, slots=True)
class Asked:
    """What weeks are proposed: days, farriers, which bookings may move, the slider."""

    practice: Practice
    farriers: tuple[User, ...]
    first: date
    last: date
    may_move: str
    together: int = 1
    people: int = 1

    @property
    def days(self) -> list[date]:
        return [
            self.first + timedelta(days=n)
            for n in range((self.last - self.first).days + 1)
        ]


@dataclass(frozen=True, slots=True)
class _Window:
    earliest: date
    target: date
    latest: date


@dataclass(frozen=True, slots=True)
class _Rows:
    """What was read, by key."""

    hours: Mapping[tuple[int, date], WorkHours]
    horses: Sequence[Horse]
    bookings: Sequence[Booking]
    handling: Mapping[int, Handling]
    limits: Mapping[int, BarnLimits]
    beds: Mapping[tuple[int, date], tuple[Position | None, Position | None]]
    away: Mapping[int, date]


class Gathered:
    """Everything but the travel: ``points`` say between which places it is wanted."""

    def __init__(self, asked: Asked, rows: _Rows, *, today: date) -> None:
        home = home_of(asked.practice)
        if home is None:
            raise Refused(NO_HOME)
        self.asked, self.rows, self.today = asked, rows, today
        self.points: list[Position] = [home]
        self.outside: list[Outside] = []
        self._index: dict[Position, int] = {home: 0}
        self.shifts = [shift for shift in self._shifts() if shift]
        self.jobs: dict[str, Job] = {}
        self.visits: list[Visit] = []
        self._take_bookings()
        self._take_due()

    # --- days ----------------------------------------------------------------------

    def _shifts(self) -> Iterable[Shift | None]:
        for (farrier, day), hours in sorted(self.rows.hours.items()):
            if not hours.drives_out:
                continue
            start, end = self.rows.beds.get((farrier, day), (None, None))
            yield Shift(
                day=day,
                farrier=str(farrier),
                start=_minute(hours.starts),
                end=_minute(hours.ends),
                leaves_from=self._place(start),
                returns_to=self._place(end),
                break_minutes=hours.break_minutes,
                people=self.asked.people,
                area=hours.area or None,
            )

    def _place(self, at: Position | None) -> int:
        if at is None:
            return 0
        if at not in self._index:
            self._index[at] = len(self.points)
            self.points.append(at)
        return self._index[at]

    # --- bookings --------------------------------------------------------------------

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
        names = {str(farrier.pk): farrier.name for farrier in self.asked.farriers}
        for (farrier, day), because in sorted(why.items(), key=lambda one: one[0][1]):
            said = f"{names[farrier]}’s round on {_day(day)} {because}"
            self.outside.append(Outside(_day(day), f"{said}: it stays as it is."))
        self.shifts = [s for s in self.shifts if (s.farrier, s.day) not in why]

    def _tell(self, row: Booking, because: str) -> None:
        names = tuple(one.horse.name for one in row.booked.all())
        said = f"{row.barn.name} on {_day(row.day)} {because}"
        self.outside.append(Outside(row.barn.name, said, names, row.barn_id))

    def _take_booking(self, row: Booking) -> None:
        horses = [one.horse for one in row.booked.all()]
        windows = [self._window(horse) or _at(row.day) for horse in horses]
        may = self._may_treat(horses)
        fixed = not self._may_move(row)
        earliest = max((w.earliest for w in windows), default=row.day)
        latest = min((w.latest for w in windows), default=row.day)
        latest = self.asked.last if latest < self.asked.first else latest
        target = max((w.target for w in windows), default=row.day)
        earliest, latest = min(earliest, row.day), max(latest, row.day)
        assert row.starts_at
        begin = timezone.localtime(row.starts_at, self.asked.practice.zone)
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
            minutes=sum(self._minutes(horse) for horse in horses),
            window=_Window(earliest, min(max(target, earliest), latest), latest),
            may=None if may is None else may | {farrier},
            booked=Booked(row.day, begin.hour * 60 + begin.minute, farrier, status),
            prefers=self._prefers(horses),
            people=1 if fixed else self._people(horses),
        )

    def _may_move(self, row: Booking) -> bool:
        if row.status == Booking.Status.PENCILLED:
            return self.asked.may_move in ("pencilled", "asked")
        return row.status == Booking.Status.ASKED and self.asked.may_move == "asked"

    # --- the due horses ----------------------------------------------------------------

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
        longest = max(
            (s.end - s.start - s.break_minutes for s in self.shifts), default=0
        )
        animals = []
        for horse in horses:
            window = windows[horse.pk]
            if window and window.earliest <= self.asked.last:
                animals.append(self._animal(horse, window))
        for piece in cut(animals, most_minutes=self._most_minutes(barn)):
            self._take_piece(barn, piece, by_key, windows)

    def _most_minutes(self, barn: Barn) -> int:
        """The longest work that a day can hold at the barn, there and back driven and
        the break before or after it: a longer one would be left over whole."""
        at = position_of(barn)
        assert at
        drive = drive_estimate(self.points[0], at).minutes
        most = LEAST_VISIT
        for shift in self.shifts:
            begin = shift.start + drive + barn.setup_minutes
            finish = shift.end - drive
            if shift.break_minutes and begin <= BREAK_UNTIL <= finish:
                rested = BREAK_FROM + shift.break_minutes + barn.setup_minutes
                most = max(most, BREAK_UNTIL - begin, finish - max(begin, rested))
            else:
                most = max(most, finish - begin)
        return most

    def _animal(self, horse: Horse, window: _Window) -> DueAnimal:
        handling = self.rows.handling.get(horse.pk)
        return DueAnimal(
            key=horse.pk,
            earliest=self._offset(window.earliest),
            target=self._offset(window.target),
            latest=self._offset(window.latest),
            minutes=self._minutes(horse),
            may_treat=handling.may_treat if handling else frozenset(),
            preferred=handling.preferred if handling else None,
            needs_two=bool(handling and handling.needs_two),
        )

    def _take_piece(
        self,
        barn: Barn,
        piece: Piece,
        by_key: Mapping[int, Horse],
        windows: Mapping[int, _Window | None],
    ) -> None:
        horses = [by_key[animal.key] for animal in piece.horses]
        told = []
        for horse in horses:
            window = windows[horse.pk]
            assert window
            told.append(
                JobHorse(
                    horse.pk, horse.name, window.earliest, window.target, window.latest
                )
            )
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
            window=_Window(
                self._day(piece.earliest),
                self._day(piece.target),
                self._day(piece.latest),
            ),
            may=self._may_treat(horses),
            booked=None,
            prefers=self._prefers(horses),
            people=self._people(horses),
        )

    # --- of a visit ----------------------------------------------------------------------

    def _add(
        self,
        job: Job,
        barn: Barn,
        *,
        minutes: int,
        window: _Window,
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
                hours=_open_hours(barn),
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

    def _window(self, horse: Horse) -> _Window | None:
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
        return _Window(earliest, target, latest)

    def _may_treat(self, horses: Iterable[Horse]) -> frozenset[str] | None:
        """Who may treat all of them; None: everyone."""
        sets = [
            handling.may_treat
            for horse in horses
            if (handling := self.rows.handling.get(horse.pk)) and handling.may_treat
        ]
        if not sets:
            return None
        return frozenset(str(key) for key in frozenset.intersection(*sets))

    def _prefers(self, horses: Iterable[Horse]) -> str | None:
        wanted = [
            handling.preferred
            for horse in horses
            if (handling := self.rows.handling.get(horse.pk)) and handling.preferred
        ]
        return str(max(wanted, key=wanted.count)) if wanted else None

    def _people(self, horses: Iterable[Horse]) -> int:
        handlings = (self.rows.handling.get(horse.pk) for horse in horses)
        return 2 if any(one and one.needs_two for one in handlings) else 1

    def _minutes(self, horse: Horse) -> int:
        handling = self.rows.handling.get(horse.pk)
        said = handling.minutes if handling else None
        return said if said is not None else minutes_of(horse)

    def _offset(self, day: date) -> int:
        return (day - self.asked.first).days

    def _day(self, offset: int) -> date:
        return self.asked.first + timedelta(days=offset)

    # --- whole -----------------------------------------------------------------------------

    def world(self, minutes: np.ndarray, metres: np.ndarray) -> World:
        """The world with its travel: minutes and metres between ``points``.

        A day whose bookings can't be kept as they are (they break a rule already) is
        taken out first: the planner mends no rule, and must not break one.
        """
        broken = self._broken_days(minutes)
        if broken:
            self.freeze(dict.fromkeys(broken, "breaks a rule already"))
            gone = {v.id for v in self.visits if _on(v) in broken}
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
            weights=Weights(
                other_farrier=OTHER_FARRIER,
                other_area=OTHER_AREA,
                keep_together=self.asked.together,
            ),
        )

    def _broken_days(self, minutes: np.ndarray) -> set[tuple[str, date]]:
        # Judged with no booking as fixed to its minute: whether the day can be driven.
        loose = replace(
            self._instance(minutes),
            visits=tuple(_loosened(visit) for visit in self.visits),
        )
        rounds: dict[tuple[str, date], list[tuple[int, str]]] = {}
        for visit in self.visits:
            if visit.booked:
                rounds.setdefault(_on(visit), []).append((visit.booked.start, visit.id))
        broken = set()
        for (farrier, day), rows in rounds.items():
            ids = [key for _, key in sorted(rows)]
            for instance in (loose, self._instance(minutes)):
                if time_shift(instance, day, farrier, ids).broken:
                    broken.add((farrier, day))
        return broken


def gather(asked: Asked, *, today: date) -> Gathered:
    """Reads the world of these weeks; the travel comes after. About fifteen queries.

    Raises:
        Refused: nobody has said where home is.
    """
    farriers = asked.farriers
    bookings = list(_bookings(asked))
    horses = list(_due(asked))
    booked = [one.horse for row in bookings for one in row.booked.all()]
    barns = {h.barn for h in horses if h.barn} | {row.barn for row in bookings}
    rows = _Rows(
        hours=work_hours(farriers=farriers, days=asked.days),
        horses=horses,
        bookings=bookings,
        handling=handling_of([*horses, *booked]),
        limits=barn_limits(barns, asked.first, asked.last),
        beds=lodgings(farriers, asked.days),
        away=_away([*horses, *booked], today=today),
    )
    return Gathered(asked, rows, today=today)


def day_digests(*, farriers: Iterable[User], first: date, last: date) -> dict[str, str]:
    """A digest of what stands on each day: bookings with their horses, hours. A day
    with the same digest is as it was. Four queries.
    """
    farriers = list(farriers)
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    rows: dict[tuple[int, date], list[object]] = {}
    horses = BookedHorse.objects.order_by("horse_id")
    for booking in (
        Booking.objects.filter(farrier__in=farriers, day__range=(first, last))
        .exclude(status=Booking.Status.CALLED_OFF)
        .order_by("pk")
        .prefetch_related(Prefetch("booked", queryset=horses))
    ):
        held = [one.horse_id for one in booking.booked.all()]
        # Asked or agreed meanwhile, a booking still stands where it stood.
        rows.setdefault((booking.farrier_id, booking.day), []).append(
            [str(booking.pk), booking.is_attended, held]
        )
    found = {}
    for place, hours in work_hours(farriers=farriers, days=days).items():
        said = [
            rows.get(place, []),
            [str(hours.starts), str(hours.ends), hours.break_minutes, hours.drives_out],
        ]
        text = json.dumps(said, sort_keys=True).encode()
        found[f"{place[0]} {place[1]}"] = hashlib.sha256(text).hexdigest()[:16]
    return found


def _bookings(asked: Asked) -> QuerySet[Booking]:
    horses = BookedHorse.objects.select_related(
        "horse__usual_work", "horse__due_window"
    )
    return (
        Booking.objects.filter(
            farrier__in=asked.farriers, day__range=(asked.first, asked.last)
        )
        .exclude(status=Booking.Status.CALLED_OFF)
        .select_related("barn__area")
        .prefetch_related("barn__access_hours", Prefetch("booked", queryset=horses))
        .order_by("day", "starts_at", "pk")
    )


def _due(asked: Asked) -> QuerySet[Horse]:
    """Active horses at a barn whose window opens within the horizon and who have no
    live booking anywhere."""
    live = BookedHorse.objects.filter(booking__in=Booking.objects.live())
    return (
        Horse.objects.active()
        .filter(barn__is_active=True, due_window__earliest__lte=asked.last)
        .exclude(pk__in=live.values("horse"))
        .select_related("barn__area", "due_window", "usual_work")
        .prefetch_related("barn__access_hours")
        .order_by("barn_id", "pk")
    )


def _away(horses: Iterable[Horse], *, today: date) -> dict[int, date]:
    """The first day on which each can be attended again, of those who are away."""
    rows = Away.objects.filter(horse__in=horses, until__gte=today).order_by("until")
    return {row.horse_id: row.until + timedelta(days=1) for row in rows}


def _open_hours(
    barn: Barn,
) -> dict[int, tuple[tuple[int, int], ...]] | None:
    rows = list(barn.access_hours.all())
    if not rows:
        return None
    found: dict[int, list[tuple[int, int]]] = {}
    for row in rows:
        span = (_minute(row.opens), _minute(row.closes))
        found.setdefault(row.weekday - 1, []).append(span)
    return {weekday: tuple(sorted(spans)) for weekday, spans in found.items()}


def _loosened(visit: Visit) -> Visit:
    return replace(visit, booked=None)


def _on(visit: Visit) -> tuple[str, date] | None:
    return (visit.booked.farrier, visit.booked.day) if visit.booked else None


def _at(day: date) -> _Window:
    return _Window(day, day, day)


def _minute(at: object) -> int:
    return at.hour * 60 + at.minute  # type: ignore[attr-defined]  # a time


def _day(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B}"

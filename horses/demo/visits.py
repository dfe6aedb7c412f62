"""The demo's visits. Growth is 0.20 to 0.30 mm a day at the toe, within what is
published for riding horses (6 to 9 mm a month).
"""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import count
from math import cos, pi

from horses.demo.animals import DAYS_BACK, FEET, HABIT_DAYS, Animal
from horses.demo.draw import draw, pick, tenths
from horses.models import Finding, FootRecord, Shoe, Visit, VisitRecord
from practice import geo
from practice.models import Barn, Practice, User


@dataclass
class Rows:
    """What a load makes, kept until it is stored in bulk."""

    visits: list[Visit] = field(default_factory=list)
    records: list[VisitRecord] = field(default_factory=list)
    feet: list[FootRecord] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    shoes: list[Shoe] = field(default_factory=list)

    def store(self) -> None:
        for model, rows in (
            (Visit, self.visits),
            (VisitRecord, self.records),
            (FootRecord, self.feet),
            (Finding, self.findings),
            (Shoe, self.shoes),
        ):
            model._default_manager.bulk_create(rows, batch_size=500)  # type: ignore[arg-type]  # rows of that model


# ---- Visits --------------------------------------------------------------------
def days_of_barn(barn: Barn, lag: int, today: date) -> list[date]:
    """The barn's visits, earliest first: every six weeks or so, on weekdays."""
    days: list[date] = []
    for turn in count():
        drift = 0 if turn == 0 else round(draw(-3, 4, barn.name, turn))
        on = today - timedelta(days=lag + HABIT_DAYS * turn - drift)
        while on.isoweekday() > 5:
            on -= timedelta(days=1)
        if (today - on).days > DAYS_BACK:
            return days[::-1]
        days.append(on)
    raise AssertionError  # pragma: no cover -- count() has no end


def attend(
    rows: Rows,
    practice: Practice,
    barn: Barn,
    farrier: User,
    on: date,
    stock: list[Animal],
) -> None:
    """One closed visit, with the horses of the barn whose time has come."""
    present = [
        animal
        for animal in stock
        if animal.has_visits
        and (animal.last is None or (on - animal.last).days >= animal.days - 10)
    ]
    if not present:
        return
    minutes, metres = _drive(practice, barn)
    visit = Visit(
        barn=barn,
        farrier=farrier,
        day=on,
        state=Visit.State.CLOSED,
        closed_at=datetime.combine(on, time(17, 5), tzinfo=practice.zone),
        closed_by=farrier,
        travel_minutes=minutes,
        travel_metres=metres,
    )
    rows.visits.append(visit)
    for animal in present:
        since = (on - animal.last).days if animal.last else animal.days
        _record(rows, visit, animal, since)
        animal.last = on


def _drive(practice: Practice, barn: Barn) -> tuple[int, int | None]:
    """Minutes and metres from home; metres are not known without a position."""
    if barn.latitude is None or barn.longitude is None:
        return barn.typed_drive_minutes or 30, None
    home = geo.Position(
        float(practice.home_latitude or 0), float(practice.home_longitude or 0)
    )
    there = geo.Position(float(barn.latitude), float(barn.longitude))
    drive = geo.drive_estimate(home, there)
    return drive.minutes, drive.metres


_NOTES = (
    "",
    "",
    "Stood well.",
    "Ground hard; feet dry.",
    "Owner held. Fidgety behind.",
    "Soft from the wet; cleaned the frogs out well.",
    "Left the toes a little stronger than last time.",
)


def _record(rows: Rows, visit: Visit, animal: Animal, since: int) -> None:
    resets = not animal.barefoot and draw(0, 1, animal.key, visit.day, "reset") < 0.3
    usual = animal.row.usual_work
    work = animal.works["Reset, all four"] if resets else usual
    if resets and usual and usual.name != "Full set":
        work = usual
    record = VisitRecord(
        visit=visit,
        horse=animal.row,
        work=work,
        note=pick(_NOTES, animal.key, visit.day, "note"),
        is_recorded=True,
        revision=1,
    )
    rows.records.append(record)
    for foot in FEET:
        _foot(rows, record, animal, foot, since, resets=resets)


def _foot_work(animal: Animal, foot: str, *, resets: bool) -> str:
    usual = animal.row.usual_work
    fronts_only = usual is not None and usual.name.startswith("Front")
    if animal.barefoot or (fronts_only and foot in ("LH", "RH")):
        return FootRecord.Work.TRIM
    return FootRecord.Work.RESET if resets else FootRecord.Work.NEW_SHOE


def _foot(
    rows: Rows,
    record: VisitRecord,
    animal: Animal,
    foot: str,
    since: int,
    *,
    resets: bool,
) -> None:
    """One foot: a size that goes with the mass, growth since the last visit, and the
    error of a tape and a gauge.
    """
    key, on = animal.key, record.visit.day
    is_fore = foot in ("LF", "RF")

    def wobble(size: float, what: str) -> float:
        return draw(-size, size, key, foot, on, what)

    scale = (float(animal.row.mass_kg or 500) / 500) ** (1 / 3)
    kept = (81 if is_fore else 80) * scale + draw(-2, 2, key, foot, "length")
    grown = since * draw(0.20, 0.30, key, "growth") * _season(on, since)
    angle = (51.5 if is_fore else 54.5) + draw(-2, 2, key, is_fore, "angle")
    angle += draw(-0.8, 0.8, key, foot, "angle")
    is_long = any(f[:2] == [foot, "long_toe"] for f in animal.findings)
    kept, angle = (kept + 5, angle - 3) if is_long else (kept, angle)
    width = (126 if is_fore else 120) * scale + draw(-3, 3, key, foot, "width")
    length = width * (0.99 if is_fore else 1.04)
    heel = kept * 0.42 + grown * 0.7
    tilt = draw(-3, 3, key, foot, "tilt")
    is_underrun = any(f[:2] == [foot, "underrun_heel"] for f in animal.findings)
    lower = (
        draw(6, 9, key, foot, "heel") if is_underrun else draw(0, 4, key, foot, "heel")
    )
    is_narrow = any(f[:2] == [foot, "contracted_heels"] for f in animal.findings)
    frog = 0.37 if is_narrow else 0.48
    row = FootRecord(
        record=record,
        foot=foot,
        work=_foot_work(animal, foot, resets=resets),
        dorsal_length_mm=tenths(round(kept + grown + wobble(1, "d"))),
        dorsal_angle_deg=tenths(angle - 0.06 * grown + wobble(0.5, "a")),
        heel_length_mm=tenths(round(heel + wobble(1, "h"))),
        heel_length_medial_mm=tenths(round(heel - tilt / 2 + wobble(1, "hm"))),
        heel_length_lateral_mm=tenths(round(heel + tilt / 2 + wobble(1, "hl"))),
        heel_angle_deg=tenths(angle - lower + wobble(0.5, "p")),
        medial_height_mm=tenths(round(heel * 1.3 - tilt / 2 + wobble(1, "m"))),
        lateral_height_mm=tenths(round(heel * 1.3 + tilt / 2 + wobble(1, "l"))),
        width_mm=tenths(round(width + wobble(1, "w"))),
        length_mm=tenths(round(length + wobble(1, "b"))),
        widest_from_toe_mm=tenths(round(length * 0.48 + wobble(1, "x"))),
        frog_width_mm=tenths(round(width * frog + wobble(1, "fw"))),
        frog_length_mm=tenths(round(length * 0.62 + wobble(1, "fl"))),
        pastern_angle_deg=tenths(round(angle + draw(-1.5, 3.5, key, "pastern"))),
        trimmed_length_mm=tenths(round(kept + wobble(0.5, "t"))),
        trimmed_angle_deg=tenths(angle + wobble(0.5, "ta")),
    )
    rows.feet.append(row)
    _found(rows, row, animal, on)
    _lost(rows, row, animal, on, since)
    if row.work in (FootRecord.Work.NEW_SHOE, FootRecord.Work.RESET):
        rows.shoes.append(_shoe(row, animal, is_fore=is_fore))


def _season(on: date, since: int) -> float:
    """Growth about the middle of the interval against the year's mean: most in May."""
    middle = on - timedelta(days=since // 2)
    return 1 + 0.14 * cos(2 * pi * (middle.timetuple().tm_yday - 140) / 365)


def _found(rows: Rows, row: FootRecord, animal: Animal, on: date) -> None:
    """A finding comes and goes with the wet season; a distortion stays."""
    for foot, kind, place in animal.findings:
        if foot != row.foot:
            continue
        if kind in ("thrush", "bruise") and on.month in (5, 6, 7, 8):
            continue
        grade = "slight" if draw(0, 1, animal.key, on, kind) < 0.6 else "moderate"
        rows.findings.append(
            Finding(foot_record=row, kind=kind, place=place, grade=grade)
        )


def _lost(rows: Rows, row: FootRecord, animal: Animal, on: date, since: int) -> None:
    """A shoe comes off now and then, more often where it was on for long."""
    if row.work not in (FootRecord.Work.NEW_SHOE, FootRecord.Work.RESET):
        return
    chance = 0.004 if since <= 44 else 0.018
    if animal.last and draw(0, 1, animal.key, row.foot, on, "lost") < chance:
        rows.findings.append(
            Finding(foot_record=row, kind="lost_shoe", place="whole_foot")
        )


def _shoe(row: FootRecord, animal: Animal, *, is_fore: bool) -> Shoe:
    mass, key = animal.row.mass_kg or 500, animal.key
    width, thickness = (25, 12) if mass > 700 else (22, 10) if mass > 520 else (20, 8)
    rolls = is_fore and draw(0, 1, key, "rolled") < 0.4
    hunts = animal.row.use in ("eventing", "hunting", "driving", "draught", "jumping")
    return Shoe(
        foot_record=row,
        profile=Shoe.Profile.CONCAVE if hunts else Shoe.Profile.FULLERED,
        metal=Shoe.Metal.STEEL,
        section_width_mm=Decimal(width),
        section_thickness_mm=Decimal(thickness),
        style="open",
        size=str(round(draw(0, 1, key, "size") + mass / 120)),
        toe_treatment=Shoe.Toe.ROLLED if rolls else Shoe.Toe.PLAIN,
        toe_place=Shoe.ToePlace.TOE if rolls else "",
        clips="toe clip" if is_fore else "quarter clips",
        heels="plain" if is_fore else "pencilled",
        traction=animal.traction if hunts else "fullering alone",
        nails_medial=3,
        nails_lateral=3 if is_fore else 4,
    )

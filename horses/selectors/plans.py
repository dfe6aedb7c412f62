"""Foot plans read for pages: what stands, where a new one starts, two years of a foot."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import QuerySet, Subquery

from horses.drawing.plan import PlanPicture
from horses.entries import FootEntry, ShoeEntry
from horses.feet import FootLook, look_at
from horses.hoof import FEET, FOOT_NAMES, Foot
from horses.landmarks.solar import SolarOutline, outline_from_solar
from horses.models import Finding, FootPlan, FootRecord, Horse, Photo, VisitRecord
from horses.selectors.marks import marked, points_of
from horses.selectors.records import entry_of, with_feet
from horses.shoe.proposal import HOOF_KEYS, Start, proposed
from practice.models import User

SHOWN_DAYS = 731
"""Two years of a foot."""


def picture_of(plan: FootPlan, before: FootPlan | None = None) -> PlanPicture:
    """What the drawing shows of a kept plan, held against another if one is given."""
    held = before.result if before else None
    return PlanPicture(plan.document, plan.result, held, plan.clips)


def plans_for(viewer: User) -> QuerySet[FootPlan]:
    """Plans with all that their page names. One query."""
    return FootPlan.objects.visible_to(viewer).select_related(
        "horse", "by", "accepted_by", "record__visit"
    )


def _records(horse: Horse, until: date) -> QuerySet[VisitRecord]:
    records = VisitRecord.objects.filter(
        horse=horse, is_recorded=True, visit__day__lte=until
    )
    return with_feet(records).order_by("-visit__day", "-visit_id")


def _measured(feet: Iterable[FootEntry]) -> dict[str, float | None]:
    """Each measure from the newest record that has it."""
    found: dict[str, float | None] = {}
    for entry in feet:
        for key in HOOF_KEYS:
            value = getattr(entry, key)
            if value is not None:
                found.setdefault(key, float(value))
    return found


def _shoe_fields(shoe: ShoeEntry) -> dict[str, Any]:
    return {name: getattr(shoe, name) for name in ShoeEntry.__dataclass_fields__}


def _feet(records: Iterable[VisitRecord], foot: Foot) -> list[FootEntry]:
    """This foot in each of the records that tell of it, newest first."""
    return [
        entry
        for record in records
        for entry in entry_of(record).feet
        if entry.foot == foot
    ]


def seen_lately(*, horse: Horse, foot: Foot, today: date) -> list[dict[str, str]]:
    """The findings of the newest record that tells of this foot, as a plan's document
    has them: a lame foot is lame whoever drew the plan before. One query."""
    newest = FootRecord.objects.filter(
        record__horse=horse,
        record__is_recorded=True,
        record__visit__day__lte=today,
        foot=foot,
    ).order_by("-record__visit__day", "-record__visit_id")
    seen = Finding.objects.filter(foot_record=Subquery(newest.values("pk")[:1]))
    rows = seen.order_by("pk").values_list("kind", "place", "grade")
    return [{"kind": k, "place": place, "grade": grade} for k, place, grade in rows]


def _findings(entry: FootEntry) -> list[dict[str, str]]:
    return [
        {"kind": seen.kind, "place": seen.place, "grade": seen.grade}
        for seen in entry.findings
    ]


def last_plan(*, horse: Horse, foot: Foot) -> FootPlan | None:
    """The plan that stands for this foot, else the newest that ever did."""
    rows = FootPlan.objects.filter(horse=horse, foot=foot).settled()
    return rows.order_by("state", "-day", "-pk").first()


def outline_of(photo: Photo) -> SolarOutline | None:
    """The outline that a photo's kept marks give; None where they give none. One query
    where the marks weren't fetched."""
    if not photo.is_measurable:
        return None
    return outline_from_solar(marked(photo, points_of(photo), photo.known_mm))


def start_of(
    *,
    horse: Horse,
    foot: Foot,
    use: str,
    today: date,
    outline: SolarOutline | None = None,
) -> Start:
    """Where a new plan starts: measures and shoe as last recorded, upon the last plan;
    the outline from a photo's marks in place of those measures, if one is given."""
    feet = _feet(_records(horse, today)[:6], foot)
    before = last_plan(horse=horse, foot=foot)
    shoe = next((entry.shoe for entry in feet if entry.shoe), None)
    return proposed(
        foot,
        measured=_measured(feet) | (dict(outline.measures) if outline else {}),
        out_mm=outline.out_mm if outline else None,
        last_plan=before.document if before else None,
        last_shoe=_shoe_fields(shoe) if shoe else None,
        findings=_findings(feet[0]) if feet else (),
        use=use,
    )


@dataclass(frozen=True, slots=True)
class Shown:
    """One foot on one day: a plan, or a visit's record."""

    day: date
    kind: str
    words: str
    plan: FootPlan | None = None
    look: FootLook | None = None
    record: UUID | None = None

    @property
    def picture(self) -> PlanPicture | None:
        return picture_of(self.plan) if self.plan else None


@dataclass(frozen=True, slots=True)
class FootStory:
    """Two years of one foot, oldest first, with its drafts and the plan that stands."""

    foot: Foot
    name: str
    standing: FootPlan | None
    drafts: tuple[FootPlan, ...]
    shown: tuple[Shown, ...]

    @property
    def picture(self) -> PlanPicture | None:
        return picture_of(self.standing) if self.standing else None


def foot_stories(*, horse: Horse, viewer: User, today: date) -> list[FootStory]:
    """All four feet over two years: five queries, however many visits."""
    since = today - timedelta(days=SHOWN_DAYS)
    plans = list(plans_for(viewer).filter(horse=horse))
    records = list(_records(horse, today).filter(visit__day__gte=since))
    looks = [(record, look_at(entry_of(record).feet)) for record in records]
    return [
        _story(foot, [p for p in plans if p.foot == foot], looks, since=since)
        for foot in FEET
    ]


def _story(
    foot: Foot,
    plans: list[FootPlan],
    looks: list[tuple[VisitRecord, tuple[FootLook, ...]]],
    *,
    since: date,
) -> FootStory:
    shown = [
        Shown(plan.day, "plan", f"plan, {plan.get_state_display()}", plan=plan)
        for plan in plans
        if not plan.is_draft and plan.day >= since
    ] + [
        Shown(record.visit.day, "visit", look.work, look=look, record=record.pk)
        for record, feet in looks
        for look in feet
        if look.foot == foot
    ]
    return FootStory(
        foot=foot,
        name=FOOT_NAMES[foot],
        standing=next((p for p in plans if p.state == FootPlan.State.ACCEPTED), None),
        drafts=tuple(p for p in plans if p.is_draft),
        shown=tuple(sorted(shown, key=lambda one: (one.day, one.kind))),
    )


def printed_plans(record: VisitRecord) -> list[FootPlan]:
    """The accepted plans that the report of this visit prints, LF RF LH RH."""
    rows = list(FootPlan.objects.filter(record=record).settled())
    newest: dict[str, FootPlan] = {}
    for plan in sorted(rows, key=lambda plan: (plan.accepted_at, str(plan.pk))):
        newest[plan.foot] = plan
    return [newest[foot] for foot in FEET if foot in newest]

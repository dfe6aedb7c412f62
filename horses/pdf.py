"""The visit report: one horse's record as a PDF, for its owner or a vet."""

import base64
import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string

from horses.conformation import lasting
from horses.drawing.plan import PlanPicture
from horses.models import FootPlan, Photo
from horses.photos import small_path
from horses.selectors.limbs import age_on, limbs_on
from horses.selectors.plans import picture_of, printed_plans
from horses.selectors.records import Told
from practice.models import Practice
from practice.pdf import FONT_FACES, render

MOST_PHOTOS = 8


@dataclass(frozen=True, slots=True)
class Report:
    """A PDF and the name to save it under."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Print:
    """A photo as it is printed."""

    photo: Photo
    address: str


@dataclass(frozen=True, slots=True)
class PrintedPlan:
    """A foot's accepted plan as it is printed."""

    plan: FootPlan

    @property
    def foot(self) -> str:
        return self.plan.foot

    @property
    def day(self) -> date:
        return self.plan.day

    @property
    def picture(self) -> PlanPicture:
        return picture_of(self.plan)

    @property
    def answer(self) -> dict[str, Any]:
        answer: dict[str, Any] = self.plan.result
        return answer

    @property
    def metal(self) -> str:
        return str(self.plan.document["shoe"]["metal"])

    @property
    def profile(self) -> str:
        return str(self.plan.document["shoe"]["section"]["profile"]).replace("_", "-")

    @property
    def flags(self) -> list[dict[str, Any]]:
        return self.plan.flags

    @property
    def vet_name(self) -> str:
        return self.plan.vet_name

    @property
    def vet_day(self) -> date | None:
        return self.plan.vet_day

    @property
    def fittings(self) -> list[tuple[str, str]]:
        return self.plan.fittings

    @property
    def note(self) -> str:
        return self.plan.note


def _pairs(plans: list[FootPlan]) -> list[tuple[PrintedPlan | None, ...]]:
    """Fore over hind, left beside right; a foot without a plan leaves its place."""
    by_foot = {plan.foot: PrintedPlan(plan) for plan in plans}
    pairs = [
        tuple(by_foot.get(f"{side}{end}") for side in ("L", "R")) for end in ("F", "H")
    ]
    return [pair for pair in pairs if any(pair)]


def visit_report(told: Told, *, practice: Practice) -> Report:
    """The report of this record; photos small, at most eight.

    Raises PdfUnavailable where the system's libraries are missing.
    """
    horse = told.record.horse
    title = f"{horse.name}, visit of {told.day:%-d %B %Y}"
    html = render_to_string(
        "pdf/visit_report.html",
        {
            "told": told,
            "record": told.record,
            "visit": told.record.visit,
            "horse": horse,
            "practice": practice,
            "title": title,
            "plans": _pairs(printed_plans(told.record)),
            "limbs": limbs_on(horse, day=told.day),
            "lasting": lasting(age_on(horse, told.day), horse.use),
            "prints": [_print(photo) for photo in told.photos[:MOST_PHOTOS]],
        },
    )
    css = FONT_FACES + render_to_string(
        "pdf/visit_report.css", {"paper": paper_of(practice)}
    )
    name = re.sub(r"[^a-z0-9]+", "-", horse.name.lower()).strip("-") or "horse"
    return Report(
        name=f"{name}-{told.day.isoformat()}.pdf",
        content=render(html, css=css, title=title, lang="en"),
    )


def paper_of(practice: Practice) -> str:
    """Letter in the US and Canada, A4 elsewhere."""
    return "letter" if practice.country in ("US", "CA") else "A4"


def _print(photo: Photo) -> Print:
    place = Path(settings.MEDIA_ROOT) / small_path(photo.path)
    try:
        content = place.read_bytes()
    except OSError:
        return Print(photo, "")
    return Print(photo, f"data:image/jpeg;base64,{base64.b64encode(content).decode()}")

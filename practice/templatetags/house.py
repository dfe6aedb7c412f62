"""What templates say in the house's way: presentation only, no query, no rule."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import template
from django.forms import (
    BoundField,
    CheckboxInput,
    CheckboxSelectMultiple,
    ModelChoiceField,
    RadioSelect,
)
from django.http import HttpRequest
from django.template import Context
from django.templatetags.static import static
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from practice import units
from practice.countries import town_line
from practice.models import Practice, User

register = template.Library()

SIGNS = {"GBP": "£", "EUR": "€", "USD": "$", "CAD": "CA$", "AUD": "A$", "NZD": "NZ$"}
"""Signs that a reader takes for one currency; any other shows its ISO 4217 code."""

PLACES = {
    **dict.fromkeys(("CLP", "ISK", "JPY", "KRW", "PYG", "UGX", "VND"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
}
"""Minor-unit digits of ISO 4217 where they are not two. For showing alone."""

FEET = {
    "LF": "Left fore",
    "RF": "Right fore",
    "LH": "Left hind",
    "RH": "Right hind",
}
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    *("Jan", "Feb", "Mar", "Apr", "May", "Jun"),
    *("Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
)
NOTHING = "–"
FIXED_SPACE = "\u00a0"


# ---- Places --------------------------------------------------------------------
@register.simple_tag(takes_context=True)
def town_of(context: Context, at: Any) -> str:
    """``Melrose TD6 0ZZ``: town and code of a client, barn or practice, in the order
    of its country, or of the practice's where it names none.
    """
    home = getattr(context.get("practice"), "country", "")
    return town_line(at.town, at.post_code, at.country or home)


# ---- Figures -------------------------------------------------------------------
@register.filter
def money(amount: Decimal | int | None, currency: Any) -> str:
    """``£1,234.50``, ``−£8.00``, ``SEK 90.00``; ``currency`` is a code or has one."""
    if amount is None or amount == "":
        return NOTHING
    code = str(getattr(currency, "currency", currency) or "")
    step = Decimal(1).scaleb(-PLACES.get(code, 2))
    exact = Decimal(amount).quantize(step, rounding=ROUND_HALF_UP)
    sign = "−" if exact < 0 else ""
    mark = SIGNS.get(code) or (f"{code}{FIXED_SPACE}" if code else "")
    return f"{sign}{mark}{abs(exact):,f}"


def _system(unit: str) -> units.System:
    return "imperial" if unit in {"in", "lb", "mi"} else "metric"


@register.filter
def length(mm: float | Decimal | None, practice: Practice) -> str:
    """Millimetres in the practice's unit: ``83 mm``, ``8.3 cm``, ``3 1/4 in``."""
    if mm is None or mm == "":
        return NOTHING
    unit: Any = practice.length_unit
    shown = units.format_length(float(mm), _system(unit), unit=unit)
    return shown.replace(" ", FIXED_SPACE)


@register.filter
def mass(grams: float | Decimal | None, practice: Practice) -> str:
    """Grams in the practice's unit: ``362 g``, ``12.8 oz``."""
    if grams is None or grams == "":
        return NOTHING
    shown = units.format_mass(float(grams), _system(practice.mass_unit))
    return shown.replace(" ", FIXED_SPACE)


@register.filter
def body_mass(kilograms: float | Decimal | None, practice: Practice) -> str:
    """A horse's kilograms in the practice's unit: ``520 kg``, ``1,146 lb``."""
    if kilograms is None or kilograms == "":
        return NOTHING
    shown = units.format_body_mass(float(kilograms), _system(practice.mass_unit))
    return shown.replace(" ", FIXED_SPACE)


@register.filter
def km(metres: float | Decimal | None, practice: Practice) -> str:
    """Metres as a road distance in the practice's unit: ``12.4 km``, ``7.7 mi``."""
    if metres is None or metres == "":
        return NOTHING
    shown = units.format_distance(float(metres), _system(practice.road_unit))
    return shown.replace(" ", FIXED_SPACE)


@register.filter
def minutes(count: float | str | None) -> str:
    """``45 min``, ``1 h``, ``1 h 20``."""
    if count is None or count == "":
        return NOTHING
    hours, rest = divmod(round(float(count)), 60)
    if not hours:
        return f"{rest}{FIXED_SPACE}min"
    tail = f"{FIXED_SPACE}{rest:02d}" if rest else ""
    return f"{hours}{FIXED_SPACE}h{tail}"


@register.filter
def percent(value: Decimal | float | None) -> str:
    """``60 %``, ``33.3 %``: trailing noughts dropped."""
    if value is None or value == "":
        return NOTHING
    text = f"{Decimal(str(value)):f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text}{FIXED_SPACE}%"


# ---- Days ----------------------------------------------------------------------
def _as_day(value: date | datetime) -> date:
    if isinstance(value, datetime):
        return timezone.localtime(value).date() if value.tzinfo else value.date()
    return value


@register.filter
def short_day(value: date | datetime | None) -> str:
    """``Tue 3 Mar``."""
    if not value:
        return NOTHING
    when = _as_day(value)
    return FIXED_SPACE.join(
        (WEEKDAYS[when.weekday()], str(when.day), MONTHS[when.month - 1])
    )


@register.filter
def day(value: date | datetime | None) -> str:
    """``Tue 3 Mar 2026``."""
    if not value:
        return NOTHING
    return f"{short_day(value)}{FIXED_SPACE}{_as_day(value).year}"


@register.filter
def moment(value: datetime | None) -> str:
    """``Tue 3 Mar 2026, 14:05``, in the practice's time."""
    if not value:
        return NOTHING
    return f"{day(value)}, {timezone.localtime(value):%H:%M}"


# ---- Words ---------------------------------------------------------------------
@register.filter
def foot_name(code: str) -> str:
    """``LF`` → ``Left fore``."""
    return FEET.get(str(code), str(code))


@register.simple_tag
def icon(name: str, word: str = "") -> SafeString:
    """A drawing of ``icons.svg``. With ``word`` it is read aloud, else it is silent."""
    picture = f"{static('practice/icons.svg')}#{name}"
    if word:
        return format_html(
            '<svg class="icon" role="img" aria-label="{}"><use href="{}"></use></svg>',
            word,
            picture,
        )
    return format_html(
        '<svg class="icon" aria-hidden="true" focusable="false">'
        '<use href="{}"></use></svg>',
        picture,
    )


@register.simple_tag
def maybe_url(name: str, *args: Any, **kwargs: Any) -> str:
    """The address of a page, or nothing where this house has no such page."""
    try:
        return reverse(name, args=args, kwargs=kwargs)
    except NoReverseMatch:
        return ""


@register.simple_tag(takes_context=True)
def page_address(context: Context, number: int) -> str:
    """This page's address with another ``page=``, the filters kept."""
    query = context["request"].GET.copy()
    query["page"] = str(number)
    return f"?{query.urlencode()}"


# ---- Form fields ---------------------------------------------------------------
def _described_by(bound: BoundField, *, hint: str, last: str) -> str:
    names = (
        ("hint", bool(hint)),
        ("last", bool(last)),
        ("error", bool(bound.errors)),
    )
    return " ".join(f"{bound.auto_id}_{name}" for name, wanted in names if wanted)


@register.inclusion_tag("_field.html")
def field(bound: BoundField, **more: Any) -> dict[str, Any]:
    """A form field with label, control, hint, last time's value and error.

    Args:
        bound: ``form.name``.
        more: ``label``, ``hint`` override the form's; ``last`` is last time's value;
            ``unit`` stands behind the control; ``step`` makes a stepper of it
            (``step=0.5``); ``kind="chips"`` shows a select's choices as chips. Any
            other name becomes an attribute of the control, ``_`` read as ``-``:
            ``inputmode="decimal"``, ``data_min=0``.
    """
    hint = str(more.pop("hint", bound.help_text) or "")
    last = str(more.pop("last", "") or "")
    label = more.pop("label", bound.label)
    unit, step = more.pop("unit", ""), more.pop("step", "")
    kind = more.pop("kind", "")
    widget = bound.field.widget
    many = isinstance(widget, RadioSelect | CheckboxSelectMultiple)
    attributes = {name.replace("_", "-"): value for name, value in more.items()}
    described = _described_by(bound, hint=hint, last=last)
    if described:
        attributes["aria-describedby"] = described
    if bound.errors:
        attributes["aria-invalid"] = "true"
    if step:
        attributes["data-step-by"] = step
        attributes.setdefault("data-step-from", last)
        attributes.setdefault("inputmode", "decimal")
        attributes.setdefault("autocomplete", "off")
    if many:
        kind = "chips"
    elif isinstance(widget, CheckboxInput):
        kind = "check"
    elif step:
        kind = "stepper"
    return {
        "bound": bound,
        "control": "" if kind == "chips" else bound.as_widget(attrs=attributes),
        "chips": list(_chips(bound)) if kind == "chips" else [],
        "chip_type": "checkbox"
        if isinstance(widget, CheckboxSelectMultiple)
        else "radio",
        "described": described,
        "label": label,
        "hint": hint,
        "last": last,
        "unit": unit,
        "kind": kind,
        "stands": _stands(bound),
    }


def _stands(bound: BoundField) -> bool:
    """Whether leaving it as it is means one of its choices, such as 'as usual'."""
    if isinstance(bound.field.widget, RadioSelect):
        return any(chip["checked"] for chip in _chips(bound))
    if isinstance(bound.field, ModelChoiceField):  # its choices would be a query
        word = str(bound.field.empty_label or "")
    else:
        choices: Any = getattr(bound.field, "choices", ())
        word = next((str(word) for value, word in choices if value in {"", None}), "")
    return bool(word.strip("-"))


def _chips(bound: BoundField) -> Sequence[dict[str, Any]]:
    raw = bound.value()
    chosen = {str(one) for one in (raw if isinstance(raw, list | tuple) else [raw])}
    if raw is None:
        chosen = {""}
    choices: Any = getattr(bound.field, "choices", ())
    return [
        {
            "value": value,
            "word": word,
            "id": f"{bound.auto_id}_{number}",
            "checked": str(value) in chosen,
        }
        for number, (value, word) in enumerate(choices)
    ]


# ---- Navigation ----------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Way:
    """One entry of the navigation."""

    word: str
    url: str
    icon: str
    here: bool


_STAFF_WAYS = (
    ("scheduling:today", "Today", "today", "all"),
    ("scheduling:due", "Due", "due", "all"),
    ("scheduling:rounds", "Rounds", "rounds", "all"),
    ("horses:horses", "Horses", "horses", "all"),
    ("practice:clients", "Clients", "clients", "all"),
    ("practice:barns", "Barns", "barns", "all"),
    ("horses:visits", "Visits", "foot", "all"),
    ("billing:invoices", "Invoices", "invoices", "books"),
    ("billing:charge_list", "Charge list", "prices", "books"),
    ("horses:import", "Bring in a sheet", "sheet", "books"),
    ("practice:messages", "Messages", "messages", "books"),
    ("practice:settings", "Practice", "settings", "head"),
    ("practice:users", "Users", "users", "head"),
)
_OWNER_WAYS = (
    ("horses:my_horses", "My horses", "horses", "all"),
    ("billing:my_invoices", "Invoices", "invoices", "all"),
)
_BARN_WAYS = (("horses:barn_visits", "Visits", "barns", "all"),)
_DAILY = 7
"""Ways above the line on the rail; below it is what is needed now and then."""
_UNDER_THUMB = 4
"""Ways on the phone's bar beside 'More'."""


def _ways_of(viewer: User) -> Sequence[tuple[str, str, str, str]]:
    if viewer.role == User.Role.OWNER:
        return _OWNER_WAYS
    if viewer.role == User.Role.BARN_CONTACT:
        return _BARN_WAYS
    allowed = {"all"}
    if viewer.keeps_books:
        allowed.add("books")
    if viewer.runs_practice:
        allowed.add("head")
    return [way for way in _STAFF_WAYS if way[3] in allowed]


@register.simple_tag(takes_context=True)
def ways(context: Context) -> dict[str, Any]:
    """The navigation of this viewer: ``daily``, ``other``, ``bar``, ``rest``."""
    request: HttpRequest | None = context.get("request")
    viewer = getattr(request, "user", None)
    if request is None or not isinstance(viewer, User):
        return {}
    found = [
        (maybe_url(name), word, picture) for name, word, picture, _ in _ways_of(viewer)
    ]
    found = [way for way in found if way[0]]
    here = max(
        (url for url, _, _ in found if request.path.startswith(url)),
        key=len,
        default="",
    )
    all_ways = [
        Way(word=word, url=url, icon=picture, here=url == here)
        for url, word, picture in found
    ]
    return {
        "daily": all_ways[:_DAILY],
        "other": all_ways[_DAILY:],
        "bar": all_ways[:_UNDER_THUMB],
        "rest": all_ways[_UNDER_THUMB:],
    }

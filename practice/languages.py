"""The languages that documents and mails are written in, and days in their words. Pure.

The pages are in English; what goes out to clients is in theirs. Each app that writes to
them holds its words in one table by key, a column a language in the order of
``LANGUAGES``. The words were written for this house and have not been read by a native
speaker of each language yet.
"""

from collections.abc import Mapping
from datetime import date

from practice import days

LANGUAGES = ("en", "de", "fr", "nl", "es", "it")
NAMES = {
    "en": "English",
    "de": "Deutsch",
    "fr": "Français",
    "nl": "Nederlands",
    "es": "Español",
    "it": "Italiano",
}
Row = tuple[str, str, str, str, str, str]
"""One key's words, in the order of ``LANGUAGES``."""

FIXED = "\N{NO-BREAK SPACE}"
_APOSTROPHE = "\N{RIGHT SINGLE QUOTATION MARK}"

_WEEKDAYS = {
    "de": "Montag Dienstag Mittwoch Donnerstag Freitag Samstag Sonntag",
    "fr": "lundi mardi mercredi jeudi vendredi samedi dimanche",
    "nl": "maandag dinsdag woensdag donderdag vrijdag zaterdag zondag",
    "es": "lunes martes miércoles jueves viernes sábado domingo",
    "it": "lunedì martedì mercoledì giovedì venerdì sabato domenica",
}
_MONTHS = {
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November "
    "Dezember",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre "
    "décembre",
    "nl": "januari februari maart april mei juni juli augustus september oktober "
    "november december",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre "
    "noviembre diciembre",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre "
    "novembre dicembre",
}
_BETWEEN = {
    "de": "zwischen dem {} und dem {}",
    "fr": "entre le {} et le {}",
    "nl": "tussen {} en {}",
    "es": "entre el {} y el {}",
    "it": "tra {} e {}",
}
_ON = {"de": "am {}", "fr": "le {}", "nl": "op {}", "es": "el {}", "it": "{}"}


def known(tag: str) -> str:
    """The language of a tag (BCP 47), English where there are no words in it."""
    language = tag.lower().partition("-")[0].partition("_")[0]
    return language if language in LANGUAGES else "en"


def by_language(catalogue: Mapping[str, Row]) -> dict[str, dict[str, str]]:
    """A table of words turned: by language, then by key."""
    return {
        language: {key: row[place] for key, row in catalogue.items()}
        for place, language in enumerate(LANGUAGES)
    }


# ---- Days ---------------------------------------------------------------------------
def day(language: str, on: date) -> str:
    """A day by itself: ``Wed 25 Nov 2026``, ``25. November 2026``."""
    if language == "en":
        return f"{on:%a} {days.short(on, year=True)}".replace(" ", FIXED)
    return _full(language, on, year=True).replace(" ", FIXED)


def meeting_day(language: str, on: date) -> str:
    """A day on which people meet, with its weekday: ``Mittwoch, 25. November 2026``."""
    if language == "en":
        return day(language, on)
    weekday = _WEEKDAYS[language].split()[on.weekday()]
    comma = "," if language in {"de", "es"} else ""
    return f"{weekday}{comma} {_full(language, on, year=True)}"


def full(language: str, on: date) -> str:
    """Day and month within a sentence: ``by 3 March``, ``entro il 3 marzo`` (Italian
    brings the article along, since it goes by the figure)."""
    if language == "en":
        return days.full(on)
    return _article(language, on.day) + _full(language, on)


def between(language: str, first: date, last: date) -> str:
    """``between 3 and 12 March``, ``am 3. März``; years where they differ."""
    if language == "en":
        return days.between(first, last)
    if first == last:
        return _ON[language].format(full(language, first))
    year = first.year != last.year
    end = _article(language, last.day) + _full(language, last, year=year)
    if not year and first.month == last.month:
        start = _figure(language, first.day)
    else:
        start = _full(language, first, year=year)
    start = _article(language, first.day) + start
    return _BETWEEN[language].format(start, end)


def _full(language: str, on: date, *, year: bool = False) -> str:
    """``3. März``, ``3 de marzo de 2026``."""
    month = _MONTHS[language].split()[on.month - 1]
    parts = [_figure(language, on.day), month, *([str(on.year)] if year else [])]
    return (" de " if language == "es" else " ").join(parts)


def _figure(language: str, number: int) -> str:
    if language == "de":
        return f"{number}."
    if number == 1 and language in {"fr", "it"}:
        return "1er" if language == "fr" else "1º"
    return str(number)


def _article(language: str, number: int) -> str:
    if language != "it":
        return ""
    return f"l{_APOSTROPHE}" if number in {8, 11} else "il "

"""The words of the mails about visits."""

from datetime import date

import pytest

from practice.languages import LANGUAGES
from scheduling.notices import Span
from scheduling.words import CATALOGUE, ask_mail, due_mail, due_said, late_mail
from tests.words import faults_of

SPAN = Span(date(2026, 3, 8), date(2026, 3, 12), date(2026, 3, 20))


def test_each_word_is_there_in_each_language_with_the_same_places():
    assert faults_of(CATALOGUE) == []


@pytest.mark.parametrize(
    ("today", "en", "it"),
    [
        (date(2026, 3, 1), "due between 8 and 20 March", "tra l’8 e il 20 marzo"),
        (date(2026, 3, 9), "due now, by 20 March", "da vedere ora, entro il 20 marzo"),
        (date(2026, 3, 21), "was due by 20 March", "andava visto entro il 20 marzo"),
    ],
)
def test_a_window_is_said_by_the_day_on_which_it_is_read(today, en, it):
    assert due_said("en", SPAN, today=today) == en
    assert due_said("it", SPAN, today=today).endswith(it)


@pytest.mark.parametrize(
    ("reach", "said"),
    [
        ((), "to agree a day."),
        (("01632 1",), "to agree a day: 01632 1."),
        (("01632 1", "a@example.org"), "to agree a day: 01632 1 or a@example.org."),
    ],
)
def test_how_the_practice_is_reached(reach, said):
    mail = due_mail("en", name="E", horses=["A", "B"], reach=reach)
    assert mail["no_visit"].endswith(said)
    assert mail["subject"] == "Your horses: time for the farrier"


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_mail_says_who_where_when(language):
    who = {"name": "Jana", "practice": "Forge", "farrier": "Ailsa", "barn": "Mill"}
    day = date(2026, 3, 11)
    asked = ask_mail(language, **who, day=day, time="09:30", horses=["Rollo", "Bo"])
    for text in ("Ailsa", "Mill", "2026", "09:30", "Rollo, Bo"):
        assert text in asked["visit"]
    assert (
        "09:30" not in ask_mail(language, **who, day=day, time="", horses=[])["visit"]
    )
    late = late_mail(
        language, **who, phone="01632 9", starts="10:40", told="10:00", is_late=True
    )
    for text in ("Ailsa", "Mill", "10:40", "10:00"):
        assert text in late["text"]
    assert "01632 9" in late["ring"]
    assert len(late["short"]) < 100  # one message has 160 signs, names are longer

"""Days in words, by language."""

from datetime import date

import pytest

from practice.languages import LANGUAGES, between, full, known, meeting_day

WEDNESDAY = date(2026, 3, 11)


@pytest.mark.parametrize(
    ("language", "meets", "alone", "within", "over"),
    [
        (
            *("en", "Wed 11 Mar 2026", "11 March", "between 8 and 11 March"),
            "between 27 February and 1 March",
        ),
        (
            *("de", "Mittwoch, 11. März 2026", "11. März"),
            "zwischen dem 8. und dem 11. März",
            "zwischen dem 27. Februar und dem 1. März",
        ),
        (
            *("fr", "mercredi 11 mars 2026", "11 mars", "entre le 8 et le 11 mars"),
            "entre le 27 février et le 1er mars",
        ),
        (
            *("nl", "woensdag 11 maart 2026", "11 maart", "tussen 8 en 11 maart"),
            "tussen 27 februari en 1 maart",
        ),
        (
            *("es", "miércoles, 11 de marzo de 2026", "11 de marzo"),
            "entre el 8 y el 11 de marzo",
            "entre el 27 de febrero y el 1 de marzo",
        ),
        (
            *("it", "mercoledì 11 marzo 2026", "l’11 marzo"),
            "tra l’8 e l’11 marzo",
            "tra il 27 febbraio e il 1º marzo",
        ),
    ],
)
def test_days_in_sentences(language, meets, alone, within, over):
    assert " ".join(meeting_day(language, WEDNESDAY).split()) == meets
    assert full(language, WEDNESDAY) == alone
    assert between(language, date(2026, 3, 8), WEDNESDAY) == within
    assert between(language, date(2026, 2, 27), date(2026, 3, 1)) == over


def test_one_day_is_no_span_and_years_are_named_where_they_differ():
    assert [between(one, WEDNESDAY, WEDNESDAY) for one in LANGUAGES] == [
        *("on 11 March", "am 11. März", "le 11 mars", "op 11 maart"),
        *("el 11 de marzo", "l’11 marzo"),
    ]
    said = between("de", date(2026, 12, 30), date(2027, 1, 9))
    assert said == "zwischen dem 30. Dezember 2026 und dem 9. Januar 2027"


def test_a_language_without_words_is_english():
    assert [known(tag) for tag in ("de-AT", "fr_CA", "NL", "cy", "")] == [
        *("de", "fr", "nl", "en", "en"),
    ]

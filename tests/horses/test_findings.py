"""The vocabulary holds together, and advice advises."""

import pytest

from horses.findings import (
    AAEP,
    CLUB,
    CRACK,
    KINDS,
    OBEL,
    PLACES,
    Seen,
    fault,
    sentence,
    vet_advice,
)


@pytest.mark.parametrize(
    ("scale", "grades"),
    # Obel (1948) in BMC Vet Res (2020) s12917-020-02715-7 table 1: 0-4; AAEP: 0-5;
    # club foot after Redden: 1-4 (3 and 4 from memory)
    [(OBEL, "01234"), (AAEP, "012345"), (CLUB, "1234")],
)
def test_named_scales_have_their_grades_and_no_other(scale, grades):
    assert "".join(key for key, _ in scale.grades) == grades
    assert not scale.has("9")
    assert not scale.has("")


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.key)
def test_each_kind_has_known_places(kind):
    assert kind.places
    assert set(kind.places) <= set(PLACES)
    assert len(set(kind.places)) == len(kind.places)
    assert fault(kind.key, kind.places[0], "") is None


def test_what_does_not_belong_together_is_told_at_its_field():
    assert fault("griffin", "", "")[0] == "kind"
    assert fault("thrush", "toe", "")[0] == "place"
    assert fault("lameness", "whole_foot", "6")[0] == "grade"
    assert fault("laminitic_gait", "whole_foot", "5")[0] == "grade"
    assert fault("abscess", "sole", "slight")[0] == "grade"
    assert fault("lameness", "whole_foot", "5") is None


@pytest.mark.parametrize(
    "kind",
    ["lameness", "puncture", "abscess", "heat", "strong_pulse", "laminitic_gait"]
    + ["wound"],
)
def test_what_is_for_the_vet_says_so(kind):
    assert "vet" in KINDS[kind].vet


@pytest.mark.parametrize(
    "word", ["laminitis", "is caused", "you should give", "mg", "diagnos", "infection"]
)
def test_advice_names_no_disease_and_no_treatment(word):
    assert all(word not in kind.vet.lower() for kind in KINDS.values())


def test_advice_is_given_once():
    advice = vet_advice(["heat", "strong_pulse", "flare", "lameness"])
    assert len(advice) == 2
    assert len(set(advice)) == 2


def test_a_finding_in_words():
    assert sentence(Seen("flare", "lateral_quarter", "moderate")) == (
        "flare, lateral quarter, moderate"
    )
    assert sentence(Seen("lameness", "whole_foot", "4")) == (
        "lameness, AAEP 4 · obvious at walk"
    )
    assert sentence(Seen("some_old_word", "elsewhere", "9")) == (
        "some old word, elsewhere, 9"
    )


def test_a_crack_has_a_class_and_an_older_degree_stays_readable():
    # by origin, extent, depth and stability: Stashak, Adams' Lameness, from memory
    offered = [key for key, _ in CRACK.offered()]
    for origin in ("grass", "sand", "complete"):
        assert {f"{origin}_shallow", f"{origin}_deep"} <= set(offered)
    assert {"transverse", "unstable"} <= set(offered)
    assert "slight" not in offered
    assert fault("crack", "toe", "slight") is None
    assert [key for key, _ in CRACK.offered("slight")] == [*offered, "slight"]
    assert fault("crack", "toe", "sideways")[0] == "grade"
    assert sentence(Seen("crack", "toe", "moderate")) == "crack, toe, moderate"
    assert sentence(Seen("crack", "toe", "sand_deep")) == (
        "crack, toe, sand crack, from the coronet down, through the wall"
    )


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.key)
def test_a_grade_fits_its_column_and_its_scale_names_its_source(kind):
    if kind.scale:
        assert kind.scale.source
        assert all(0 < len(key) <= 20 for key, _ in kind.scale.grades)

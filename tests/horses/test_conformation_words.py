"""What can be said of a limb: to a farrier, to an owner, and what can't be."""

import pytest

from horses.conformation import (
    BY_CODE,
    GROWING,
    SUPPORTED,
    TRAITS,
    Built,
    clash,
    fault,
    from_finding,
    lasting,
    offered,
    plain,
    stage,
    words,
)
from horses.hoof import FEET

KNEE = Built("LF", "angular", "carpus", "valgus", "slight")


def test_each_trait_has_its_own_code_that_its_columns_hold():
    assert len(BY_CODE) == len(TRAITS)
    for trait in TRAITS:
        assert len(trait.kind) <= 14
        assert len(trait.place) <= 10
        assert len(trait.direction) <= 16


def test_the_issues_traits_are_all_there():
    # angular deviation at carpus/tarsus and fetlock, axial rotation, stance, offset,
    # old injuries
    for code in (
        *("angular:carpus:varus", "angular:carpus:valgus"),
        *("angular:tarsus:varus", "angular:tarsus:valgus"),
        *("angular:fetlock:varus", "angular:fetlock:valgus"),
        *("axial_rotation:limb:toes_in", "axial_rotation:limb:toes_out"),
        *("stance:limb:base_narrow", "stance:limb:base_wide"),
        *("stance:limb:camped_out", "stance:limb:sickle", "offset:carpus:lateral"),
        "old_injury:fetlock:",
    ):
        assert code in BY_CODE


@pytest.mark.parametrize("foot", FEET)
def test_what_is_offered_of_a_limb_fits_it(foot):
    traits = [trait for _, group in offered(foot) for trait in group]
    for trait in traits:
        said = Built(foot, trait.kind, trait.place, trait.direction, "slight")
        assert fault(said) is None
    places = {trait.place for trait in traits}
    assert ("carpus" in places) == foot.endswith("F")
    assert ("tarsus" in places) == foot.endswith("H")


def test_what_can_not_be_is_told_at_its_field():
    assert fault(Built("LH", "angular", "carpus", "valgus"))[0] == "trait"
    assert fault(Built("LF", "angular", "carpus", "toes_in"))[0] == "trait"
    assert fault(Built("XX", "angular", "carpus", "valgus"))[0] == "limb"
    assert fault(Built("LF", "angular", "carpus", "valgus", "huge"))[0] == "grade"
    assert fault(Built("LF", "angular", "carpus", "valgus", "", "x" * 301))[0] == "note"


@pytest.mark.parametrize(
    ("foot", "kind", "grade", "code"),
    [
        ("LF", "angular", "valgus_carpus", "angular:carpus:valgus"),
        ("LH", "angular", "valgus_carpus", "angular:tarsus:valgus"),
        ("RH", "angular", "varus_fetlock", "angular:fetlock:varus"),
        ("RF", "axial_rotation", "toes_in", "axial_rotation:limb:toes_in"),
        ("RF", "stance", "base_wide", "stance:limb:base_wide"),
        ("LH", "stance", "sickle", "stance:limb:sickle"),
        ("LF", "stance", "sickle", None),
        ("LF", "stance", "camped", None),
        ("LF", "angular", "", None),
        ("LF", "flare", "moderate", None),
    ],
)
def test_a_trait_among_the_findings_is_read_as_one(foot, kind, grade, code):
    found = from_finding(foot, kind, grade)
    assert (found.code if found else None) == code


def test_a_farrier_and_an_owner_read_it_each_in_their_words():
    assert words(KNEE) == "valgus at the carpus, slight"
    assert plain(KNEE) == "The left fore leg leans slightly outward below the knee."
    assert plain(Built("RH", "side", "pastern", "upright_pastern", "moderate")) == (
        "The right hind leg has an upright pastern."
    )
    assert words(Built("LF", "some_old", "place", "word")) == "some old word place"


@pytest.mark.parametrize("trait", TRAITS, ids=lambda trait: trait.code)
@pytest.mark.parametrize("grade", ["", "slight", "moderate", "marked"])
def test_owners_read_no_latin(trait, grade):
    said = plain(Built("LF", trait.kind, trait.place, trait.direction, grade))
    for word in ("varus", "valgus", "axial", "carpus", "tarsus", "{", "medial", " a u"):
        assert word not in said
    assert said.endswith(".")


def test_the_same_twice_and_the_opposite_clash():
    assert "already" in clash(KNEE, [KNEE])
    assert "can't be both" in clash(Built("LF", "angular", "carpus", "varus"), [KNEE])
    assert clash(Built("LF", "angular", "fetlock", "varus"), [KNEE]) == ""
    assert clash(Built("RF", "angular", "carpus", "varus"), [KNEE]) == ""
    stands = Built("LF", "stance", "limb", "base_narrow")
    assert clash(Built("LF", "stance", "limb", "camped_out"), [stands]) == ""
    injury = Built("LF", "old_injury", "fetlock")
    assert clash(injury, [injury]) == ""


@pytest.mark.parametrize(
    ("age", "use", "found"),
    [
        (0, "", "foal"),
        (1, "", "growing"),
        (3, "racing", "growing"),
        (4, "youngstock", "mature"),
        (None, "youngstock", "growing"),
        (None, "hacking", "unknown"),
    ],
)
def test_age_decides_what_lasting_means(age, use, found):
    assert stage(age, use) == found
    if found == "mature":
        assert lasting(age, use) == SUPPORTED
    if found in ("foal", "growing"):
        assert lasting(age, use) == GROWING
        assert "vet" in GROWING

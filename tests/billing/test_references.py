"""Payment references: check digits, and what is found in a bank's text."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.references import is_rf, numbers_in, rf_bodies, rf_of


def test_the_published_example_of_iso_11649():
    """ISO 11649's own example, as python-stdnum quotes it too."""
    assert rf_of("539007547034") == "RF18539007547034"
    assert is_rf("RF18 5390 0754 7034")


@pytest.mark.parametrize("number", ["", "---", "x" * 22])
def test_what_makes_no_reference_is_refused(number):
    with pytest.raises(ValueError, match="makes no reference"):
        rf_of(number)


@given(st.from_regex(r"[A-Z]{2,3}-[0-9]{5,8}", fullmatch=True))
def test_a_reference_is_found_again_however_the_bank_breaks_it(number):
    reference = rf_of(number)
    body = number.replace("-", "")
    groups = " ".join(reference[at : at + 4] for at in range(0, len(reference), 4))
    for text in (reference, groups, f"/RFB/{reference}/", reference.lower()):
        assert body in rf_bodies(f"SVWZ+{text} thanks")


def test_one_wrong_digit_is_no_reference():
    right = rf_of("INV-00001")
    wrong = right[:-1] + ("2" if right[-1] != "2" else "3")
    assert wrong[4:] not in rf_bodies(wrong)
    assert "INV00001" not in rf_bodies(wrong)
    assert not is_rf(wrong)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("INV-00012", ["INV-00012"]),
        ("invoice inv 00012 thanks", ["INV-00012"]),
        ("INV-12, INV00013", ["INV-00012", "INV-00013"]),
        ("INV-000123", []),
        ("XINV-00012", []),
        ("00012", []),
    ],
)
def test_a_number_is_found_whole_or_not_at_all(text, found):
    assert numbers_in(text, ["INV-00012", "INV-00013"]) == found

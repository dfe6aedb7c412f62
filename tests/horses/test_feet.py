"""What is drawn, reckoned and told of what a record says."""

from dataclasses import replace
from decimal import Decimal

from horses.entries import FindingEntry, FootEntry, RecordEntry, ShoeEntry
from horses.feet import Difference, advice_for, differences, look_at, shoe_words

SHOE = ShoeEntry(
    profile="half_round",
    metal="steel",
    section_width_mm=Decimal("20.0"),
    section_thickness_mm=Decimal("9.5"),
    style="open",
    size="5",
    toe_treatment="rocker",
    toe_place="medial_toe_quarter",
    nails_medial=3,
    nails_lateral=4,
)
LEFT = FootEntry("LF", work="new_shoe", dorsal_angle_deg=Decimal(51), shoe=SHOE)


def test_a_shoe_in_words():
    assert shoe_words(SHOE) == (
        "steel half-round 20 × 9.5 mm, open, size 5, rocker toe at the medial toe "
        "quarter, nails 3 medial, 4 lateral"
    )
    assert shoe_words(None) == ""


def test_feet_are_looked_at_in_order_and_in_pairs():
    right = FootEntry("RF", dorsal_angle_deg=Decimal(53))
    looks = look_at((right, LEFT))
    assert [look.foot for look in looks] == ["LF", "RF"]
    assert all(look.flags[0].rule.code == "uneven_pair" for look in looks)
    # 2.0° apart, 0.5 past the limit of 1.5, the spread of two readings is 1.4
    assert looks[0].flags[0].state == "likely"
    exact = look_at((right, LEFT), angle_sd_deg=0.1)
    assert exact[0].flags[0].state == "clear"


def test_a_foot_without_toe_length_and_angle_has_no_side_view():
    assert look_at((LEFT,))[0].side is None
    whole = replace(LEFT, dorsal_length_mm=Decimal(85))
    assert look_at((whole,))[0].side.shod


def test_a_shod_foot_of_which_no_shoe_is_told_is_drawn_shod():
    assert look_at((FootEntry("LH", work="reset"),))[0].picture.shoe is not None
    assert look_at((FootEntry("LH", work="trim"),))[0].picture.shoe is None


def test_advice_over_all_feet_comes_once():
    feet = tuple(
        FootEntry(foot, findings=(FindingEntry("heat"), FindingEntry("old word")))
        for foot in ("LF", "RF")
    )
    assert len(advice_for(feet)) == 1


def test_what_differs_is_told_with_old_and_new():
    before = RecordEntry(work=1, note="a", feet=(LEFT,))
    after = RecordEntry(
        work=2,
        note="a",
        vet_advised=True,
        feet=(
            replace(LEFT, dorsal_angle_deg=Decimal("52.5"), shoe=None),
            FootEntry("RH", findings=(FindingEntry("thrush", "frog", "slight", "x"),)),
        ),
    )
    assert differences(before, after) == [
        Difference("work to be billed", "", ""),
        Difference("vet advised", "no", "yes"),
        Difference("LF toe angle", "51°", "52.5°"),
        Difference("LF shoe", shoe_words(SHOE), ""),
        Difference("RH findings", "", "thrush, frog, slight: x"),
    ]
    assert differences(before, before) == []

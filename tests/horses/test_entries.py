"""An entry says the same however it travels."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.entries import (
    MEASURES,
    FindingEntry,
    FootEntry,
    RecordEntry,
    ShoeEntry,
    as_document,
    digest,
    faults,
    from_document,
)
from horses.feet import differences
from horses.findings import KINDS
from horses.hoof import FEET

LENGTH = st.none() | st.decimals(1, 400, places=1)
ANGLE = st.none() | st.decimals(1, 89, places=1)


@st.composite
def seen(draw):
    kind = KINDS[draw(st.sampled_from(sorted(KINDS)))]
    grades = [key for key, _ in kind.scale.grades] if kind.scale else []
    return FindingEntry(
        kind.key,
        draw(st.sampled_from(["", *kind.places])),
        draw(st.sampled_from(["", *grades])),
        draw(st.text(max_size=20)),
    )


SHOES = st.builds(
    ShoeEntry,
    profile=st.sampled_from(["", "plain", "fullered"]),
    section_width_mm=st.none() | st.decimals(1, 60, places=1),
    size=st.text(max_size=20),
    nails_medial=st.none() | st.integers(0, 8),
)


@st.composite
def feet(draw):
    entries = []
    for foot in draw(st.lists(st.sampled_from(FEET), unique=True)):
        measures = {
            name: draw(ANGLE if name.endswith("deg") else LENGTH) for name in MEASURES
        }
        widest, length = measures["widest_from_toe_mm"], measures["length_mm"]
        if widest and length and widest > length:
            measures["widest_from_toe_mm"] = length
        entries.append(
            FootEntry(
                foot,
                work=draw(st.sampled_from(["", "trim", "reset", "new_shoe"])),
                findings=tuple(draw(st.lists(seen(), max_size=3))),
                shoe=draw(st.none() | SHOES),
                note=draw(st.text(max_size=20)),
                **measures,
            )
        )
    return tuple(entries)


ENTRIES = st.builds(
    RecordEntry,
    work=st.none() | st.integers(1, 99),
    note=st.text(max_size=50),
    vet_advised=st.booleans(),
    feet=feet(),
)


@given(ENTRIES)
def test_an_entry_survives_its_document(entry):
    document = as_document(entry)
    again = from_document(document)
    assert as_document(again) == document
    assert digest(again) == digest(entry)
    assert list(faults(entry)) == []


@given(ENTRIES)
def test_neither_order_nor_silent_feet_change_the_digest(entry):
    named = {foot.foot for foot in entry.feet}
    silent = tuple(FootEntry(foot) for foot in FEET if foot not in named)
    other = replace(entry, feet=silent + tuple(reversed(entry.feet)))
    assert digest(other) == digest(entry)


@given(ENTRIES, st.sampled_from(FEET))
def test_another_word_is_another_digest(entry, foot):
    rest = tuple(row for row in entry.feet if row.foot != foot)
    mine = next((row for row in entry.feet if row.foot == foot), FootEntry(foot))
    other = replace(entry, feet=(*rest, replace(mine, note=mine.note + "x")))
    assert digest(other) != digest(entry)
    [difference] = differences(entry, other)
    assert difference.words == f"{foot} note"
    assert difference.after == difference.before + "x"


def test_findings_stand_in_one_order_however_they_came():
    seen = (
        FindingEntry("flare", "lateral_heel"),
        FindingEntry("crack", "toe"),
        FindingEntry("flare", "lateral_quarter"),
    )
    one, other = (
        RecordEntry(feet=(FootEntry("LF", findings=order),))
        for order in (seen, seen[::-1])
    )
    assert digest(one) == digest(other)
    assert [row["kind"] for row in as_document(one)["feet"][0]["findings"]] == [
        "crack",
        "flare",
        "flare",
    ]


def test_how_a_number_is_written_does_not_matter():
    one = RecordEntry(feet=(FootEntry("LF", dorsal_length_mm=Decimal("84")),))
    other = RecordEntry(feet=(FootEntry("LF", dorsal_length_mm=Decimal("84.0")),))
    assert digest(one) == digest(other)


@pytest.mark.parametrize(
    ("foot", "where"),
    [
        (FootEntry("LF", work="dance"), "feet/LF/work"),
        (FootEntry("LF", width_mm=Decimal("0.5")), "feet/LF/width_mm"),
        (FootEntry("LF", width_mm=Decimal("NaN")), "feet/LF/width_mm"),
        (FootEntry("LF", dorsal_angle_deg=Decimal(90)), "feet/LF/dorsal_angle_deg"),
        (
            FootEntry("RH", length_mm=Decimal(120), widest_from_toe_mm=Decimal(130)),
            "feet/RH/widest_from_toe_mm",
        ),
        (
            FootEntry("LF", findings=(FindingEntry("thrush", "toe"),)),
            "feet/LF/findings/0/place",
        ),
        (
            FootEntry("LF", shoe=ShoeEntry(nails_medial=9)),
            "feet/LF/shoe/nails_medial",
        ),
        (
            FootEntry("LF", shoe=ShoeEntry(section_width_mm=Decimal(80))),
            "feet/LF/shoe/section_width_mm",
        ),
        (FootEntry("LF", shoe=ShoeEntry(size="9" * 21)), "feet/LF/shoe/size"),
    ],
)
def test_what_cannot_be_is_told_at_its_place(foot, where):
    assert [path for path, _ in faults(RecordEntry(feet=(foot,)))] == [where]


def test_a_foot_can_be_there_once():
    twice = RecordEntry(feet=(FootEntry("LF", work="trim"), FootEntry("LF")))
    assert next(faults(twice))[0] == "feet"

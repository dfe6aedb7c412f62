"""The estimate of drives and what confirmed drives teach it."""

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from practice.geo import Position, distance_metres, drive_estimate
from scheduling import driving
from scheduling.driving import (
    ConfirmedDrive,
    Pace,
    calibrate,
    estimate_matrix,
    learn_circuity,
)

degrees = st.floats(-1.2, 1.2, allow_nan=False)
places = st.lists(
    st.builds(lambda a, b: Position(55.6 + a, -2.8 + b), degrees, degrees),
    min_size=2,
    max_size=6,
)


@given(places)
def test_the_matrix_is_the_estimate_of_each_pair(points):
    matrix = estimate_matrix(points)
    for i, a in enumerate(points):
        for j, b in enumerate(points):
            drive = drive_estimate(a, b)
            assert abs(int(matrix.minutes[i, j]) - drive.minutes) <= 0
            assert abs(int(matrix.metres[i, j]) - drive.metres) <= 1


def test_a_tenth_slower_lanes_make_the_short_drive_a_tenth_slower():
    # 1 km of road: 1.5 min at 40 km/h, 1.65 at a tenth less pace; a minute of gate.
    # 100/13 m of arc at 1.3 road metres each: read off by hand, no code of ours.
    north = Position(55.6 + 1000 / 1.3 / 6_371_000 * 180 / np.pi, -2.8)
    matrix = estimate_matrix(
        [Position(55.6, -2.8), north], Pace(factors=(2.0, 1.0, 1.0), stop_minutes=0.0)
    )
    assert matrix.metres[0, 1] == 1000
    assert matrix.minutes[0, 1] == 3


@settings(max_examples=40)
@given(
    places,
    st.floats(0.8, 2.5),
    st.floats(0.75, 1.0),
    st.floats(0.75, 1.0),
)
def test_no_detour_is_ever_shorter(points, first, second, third):
    pace = Pace(factors=(first, first * second, first * second * third))
    minutes = estimate_matrix(points, pace).minutes
    for via in range(len(points)):
        # Whole minutes are rounded up once more by a detour, never down.
        assert (minutes <= minutes[:, [via]] + minutes[[via], :]).all()


def test_a_point_that_is_not_in_the_matrix_is_estimated():
    here, there = Position(55.6, -2.8), Position(55.7, -2.9)
    matrix = estimate_matrix([here])
    assert matrix.drive(here, there) == drive_estimate(here, there)
    assert matrix.source_of(here, there) == "estimate"


def test_a_pace_out_of_reason_is_refused():
    with pytest.raises(ValueError, match="crow"):
        Pace(circuity=0.9)
    with pytest.raises(ValueError, match="slower"):
        Pace(factors=(0.5, 1.0, 3.0))
    with pytest.raises(ValueError, match="factor"):
        Pace(factors=(9.0, 1.0, 1.0))


def drives_at(pace, count, *, seed, wild=0.0):
    """Drives as they would be in that pace, give or take a tenth; some far off."""
    chance = random.Random(seed)  # noqa: S311  # repeatable, no secret
    made = []
    for _ in range(count):
        start = Position(55.5 + chance.random() / 3, -3 + chance.random() / 3)
        reach = chance.choice([0.02, 0.1, 0.9])
        end = Position(
            start.lat + reach * (chance.random() - 0.5),
            start.lon + reach * (chance.random() - 0.5),
        )
        road = np.array([distance_metres(start, end) * pace.circuity])
        minutes = pace.stop_minutes + float(
            (driving.bands(road) @ np.array(pace.factors))[0]
        )
        minutes *= chance.uniform(0.9, 1.1)
        if chance.random() < wild:
            minutes += chance.uniform(20, 240)  # a break, or a forgotten tap
        made.append(ConfirmedDrive(start, end, minutes))
    return made


@pytest.mark.parametrize("wild", [0.0, 0.2])
def test_drives_teach_the_pace_that_made_them(wild):
    true = Pace(factors=(1.3, 1.2, 0.9))
    learnt = calibrate(drives_at(true, 400, seed=5, wild=wild), Pace())
    assert learnt.pace.factors == pytest.approx(true.factors, rel=0.12)
    assert learnt.error_after < learnt.error_before


def on_winding_roads(pace, count, *, seed, wild):
    """Drives whose roads wind each in their own way about the pace's circuity, give or
    take a sixth; some roads far off, as an odometer read wrongly would have them."""
    chance = random.Random(seed)  # noqa: S311  # repeatable, no secret
    made = []
    for drive in drives_at(pace, count, seed=seed):
        straight = distance_metres(drive.start, drive.end)
        road = straight * max(1.0, pace.circuity * chance.uniform(0.84, 1.16))
        minutes = pace.stop_minutes + float(
            (driving.bands(np.array([road])) @ np.array(pace.factors))[0]
        )
        if chance.random() < wild:
            road *= chance.choice([0.1, 3, 10])
        made.append(replace(drive, minutes=minutes, metres=road))
    return made


@pytest.mark.parametrize("wild", [0.0, 0.3])
def test_known_roads_tell_a_longer_road_from_a_slower_one(wild):
    true = Pace(circuity=1.6, factors=(1.2, 1.0, 0.9))
    drives = on_winding_roads(true, 300, seed=9, wild=wild)
    straight = np.array([distance_metres(one.start, one.end) for one in drives])
    roads = learn_circuity(straight, np.array([one.metres for one in drives]))
    assert roads.circuity == pytest.approx(true.circuity, rel=0.03)
    learnt = calibrate(drives, Pace(), roads)
    assert learnt.pace.circuity == roads.circuity
    assert learnt.pace.factors == pytest.approx(true.factors, rel=0.05)
    # Of the minutes alone the speeds take up both, which is wrong for either.
    alone = calibrate([replace(one, metres=None) for one in drives], Pace())
    assert alone.pace.circuity == 1.3
    assert alone.pace.factors[0] > 1.1 * true.factors[0]
    assert learnt.error_after < learnt.error_before


def test_few_roads_and_near_ones_teach_no_circuity():
    straight = np.array([400.0] * 9 + [2000.0] * 4 + [3000.0])
    road = np.array([900.0] * 9 + [3000.0] * 4 + [np.nan])
    four = learn_circuity(straight, road)
    assert (four.roads, four.ratio, four.circuity) == (4, 1.5, None)
    assert learn_circuity(straight[:9], road[:9]) == driving.NO_ROADS
    road[-1] = 2900.0  # shorter than the crow flies: a wrong position
    assert learn_circuity(straight, road).circuity == 1.5
    assert learn_circuity(straight, straight * 0.5).circuity == 1.0
    roads = learn_circuity(straight, road)
    assert calibrate([], Pace(), roads).teaches


def test_few_drives_teach_nothing():
    learnt = calibrate(drives_at(Pace(factors=(2.0, 2.0, 2.0)), 3, seed=1), Pace())
    assert not learnt.teaches
    assert learnt.pace == Pace()
    assert calibrate([], Pace()).drives == 0


def test_a_band_without_drives_takes_what_all_say_together():
    true = Pace(factors=(1.2, 1.2, 1.2))
    far = [d for d in drives_at(true, 400, seed=3) if d.minutes > 25]
    learnt = calibrate(far, Pace())
    assert learnt.bands[0].drives == 0
    assert not learnt.bands[0].is_own
    assert learnt.bands[2].is_own
    assert learnt.pace.factors == pytest.approx(true.factors, rel=0.06)


def test_whatever_the_drives_say_the_pace_stays_in_reason():
    here, there = Position(55.6, -2.8), Position(55.6, -2.2)
    absurd = [ConfirmedDrive(here, there, 5000.0)] * 9
    near = [ConfirmedDrive(here, Position(55.61, -2.8), 0.5)] * 9
    learnt = calibrate([*absurd, *near], Pace())
    assert learnt.pace.factors[0] == driving.FACTOR_RANGE[0]
    Pace(factors=learnt.pace.factors)  # does not raise


def test_known_drives_replace_the_estimate_cell_by_cell():
    points = [Position(55.6, -2.8), Position(55.7, -2.9), Position(55.8, -2.7)]
    base = estimate_matrix(points)
    seconds = np.full((3, 3), np.nan)
    metres = np.full((3, 3), np.nan)
    seconds[0, 1], metres[0, 1] = 600, 9000
    seconds[1, 2] = 601
    known = driving.filled(base, seconds=seconds, metres=metres, source=driving.ENGINE)
    assert known.minutes[0, 1] == 11  # ten, and one for the gate
    assert known.metres[0, 1] == 9000
    assert known.minutes[1, 2] == 12
    assert known.metres[1, 2] == base.metres[1, 2]
    assert known.minutes[1, 0] == base.minutes[1, 0]
    assert known.source_of(points[0], points[1]) == "engine"
    assert known.source_of(points[1], points[0]) == "estimate"
    assert known.counted() == {"estimate": 4, "roads": 0, "engine": 2}

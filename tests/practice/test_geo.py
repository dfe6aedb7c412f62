"""Positions, distances and plus codes, checked against published figures."""

import contextlib
import csv
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from practice import geo
from practice.geo import BadPosition, Position, parse_position

VECTORS = Path(__file__).parents[1] / "reference" / "open_location_code"


def rows(name):
    with (VECTORS / name).open(encoding="utf-8") as file:
        return list(csv.reader(file))


positions = st.builds(
    Position,
    st.floats(-89.9, 89.9, allow_nan=False),
    st.floats(-180, 179.9, allow_nan=False),
)

# --- distance and bearing -----------------------------------------------------------


def test_great_circle_is_that_of_the_worked_example():
    # Rosetta Code, task 'Haversine formula': Nashville BNA to Los Angeles LAX,
    # 2886.444 km with the radius 6371.0 km.
    bna, lax = Position(36.12, -86.67), Position(33.94, -118.40)
    assert geo.distance_metres(bna, lax) == pytest.approx(2_886_444.443, abs=0.5)


def test_distance_and_bearing_stand_close_to_the_geodesic():
    # Geoscience Australia's worked line Flinders Peak to Buninyong (Vincenty, GDA
    # Technical Manual): 54 972.271 m, forward azimuth 306°52'05.37", reverse
    # 127°10'25.07". A sphere may be wrong by half a per cent and some arc minutes.
    flinders = parse_position("37°57'03.72030\"S 144°25'29.52440\"E")
    buninyong = parse_position("37°39'10.15610\"S 143°55'35.38390\"E")
    metres = geo.distance_metres(flinders, buninyong)
    assert metres == pytest.approx(54_972.271, rel=0.005)
    forward = geo.bearing_degrees(flinders, buninyong)
    assert forward == pytest.approx(306.86816, abs=0.15)
    assert geo.bearing_degrees(buninyong, flinders) == pytest.approx(
        127.17363, abs=0.15
    )


def test_a_degree_of_a_meridian_and_the_four_winds():
    here = Position(0, 0)
    degree = math.pi * geo.EARTH_RADIUS_METRES / 180
    assert geo.distance_metres(here, Position(1, 0)) == pytest.approx(degree)
    winds = [Position(1, 0), Position(0, 1), Position(-1, 0), Position(0, -1)]
    assert [geo.bearing_degrees(here, wind) for wind in winds] == [0, 90, 180, 270]


@settings(deadline=None)
@given(positions, positions, positions)
def test_drives_are_symmetric_and_keep_the_triangle(a, b, c):
    assert geo.drive_estimate(a, b) == geo.drive_estimate(b, a)
    direct = geo.drive_estimate(a, c).minutes
    # 25 m of no drive at all and rounding up cost at most a minute.
    through = geo.drive_estimate(a, b).minutes + geo.drive_estimate(b, c).minutes
    assert direct <= through + 1


def test_a_drive_counts_lanes_then_country_then_main_roads():
    assert geo.road_minutes(5_000) == pytest.approx(7.5)
    assert geo.road_minutes(20_000) == pytest.approx(7.5 + 15)
    assert geo.road_minutes(60_000) == pytest.approx(7.5 + 15 + 30)
    at = Position(55.6, -2.7)
    assert geo.drive_estimate(at, at) == geo.Drive(0, 0)
    north = Position(55.6 + 10_000 / 111_194.93, -2.7)  # 10 km of meridian
    assert geo.drive_estimate(at, north) == geo.Drive(13_000, 17)  # 1 + 7.5 + 8


# --- Open Location Code: the published vectors ------------------------------------------


@pytest.mark.parametrize("row", rows("decoding.csv"), ids=lambda row: row[0])
def test_codes_decode_to_the_published_cells(row):
    code, digits, *edges = row
    area = geo.decode_plus_code(code)
    assert area.digits == int(digits)
    found = (area.south, area.west, area.north, area.east)
    assert found == pytest.approx([float(edge) for edge in edges], abs=1e-9)


@pytest.mark.parametrize("row", rows("encoding.csv"), ids=lambda row: row[3])
def test_positions_encode_to_the_published_codes(row):
    lat, lon, digits, code = row
    assert geo.plus_code(Position(float(lat), float(lon)), int(digits)) == code


@pytest.mark.parametrize("row", rows("validity.csv"), ids=lambda row: row[0])
def test_codes_are_told_from_what_is_none(row):
    code, valid, short, full = row
    assert geo.is_short_code(code) is (short == "true")
    assert geo.is_full_code(code) is (full == "true")
    assert (geo.is_short_code(code) or geo.is_full_code(code)) is (valid == "true")


@pytest.mark.parametrize("row", rows("short_codes.csv"), ids="@".join)
def test_short_codes_are_completed_near_a_place(row):
    full, lat, lon, short, _ = row
    near = Position(float(lat), float(lon))
    assert geo.recover_plus_code(short, near) == full


@settings(deadline=None)
@given(positions)
def test_a_code_holds_the_place_it_was_made_of(at):
    area = geo.decode_plus_code(geo.plus_code(at))
    assert area.south - 1e-9 <= at.lat <= area.north + 1e-9
    assert area.west - 1e-9 <= at.lon <= area.east + 1e-9


# --- what people type ----------------------------------------------------------------

GALASHIELS = Position(55.6172, -2.8062)


@pytest.mark.parametrize(
    "text",
    [
        "55.6172, -2.8062",
        "55.6172 -2.8062",
        "55.6172;-2.8062",
        "(55.6172, −2.8062)",
        "55.6172N 2.8062W",
        "55.6172° n, 2.8062° w",
        "N 55.6172 W 2.8062",
        "W2.8062 N55.6172",
        "55,6172 -2,8062",
        "55,6172; -2,8062",
        "geo:55.6172,-2.8062;u=30",
        "55°37'01.92\"N 2°48'22.32\"W",
        "55° 37′ 01.92″ N, 2° 48′ 22.32″ W",
        "55 37 01.92 N 2 48 22.32 W",
        "55 37 01.92, -2 48 22.32",
        "55d37m01.92s N 2d48m22.32s W",
        "55° 37.032' N 2° 48.372' W",
        "N55°37'01.92'' W002°48'22.32''",
    ],
)
def test_a_position_is_read_in_the_usual_notations(text):
    at = parse_position(text)
    assert (at.lat, at.lon) == pytest.approx((GALASHIELS.lat, GALASHIELS.lon), abs=1e-7)


def test_a_plus_code_is_read_full_or_short_near_a_place():
    code = geo.plus_code(GALASHIELS)
    assert geo.distance_metres(parse_position(code.lower()), GALASHIELS) < 10
    short = f"{code[4:]} Galashiels"
    assert geo.distance_metres(parse_position(short, near=GALASHIELS), GALASHIELS) < 10
    with pytest.raises(BadPosition, match="give the full code"):
        parse_position(short)


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("", "Give latitude and longitude"),
        ("behind the church", "'behind the church' is not a position"),
        ("95, 3", "latitude first"),
        ("3, 200", "outside −180 to 180"),
        ("55 61 3, 2 3 4", "below 60"),
        ("55.5 20 3, 2 3 4", "only the last"),
        ("-55 N 2 W", "both a sign and a letter"),
        ("55 N 2 N", "one of E or W"),
        ("55.5, 3.2, 7", "is not a position"),
        ("55.6,", "is not a position"),
        ("7FG40000+", "kilometres wide"),
        ("9C7VI7XH+9F", "is not a plus code"),
        ("9C7VH7XH+9", "is not a plus code"),
    ],
)
def test_what_is_no_position_says_what_mends_it(text, mend):
    with pytest.raises(BadPosition, match=mend):
        parse_position(text)


@settings(deadline=None)
@given(positions)
def test_a_shown_position_reads_back(at):
    back = parse_position(str(at))
    assert (back.lat, back.lon) == pytest.approx((at.lat, at.lon), abs=6e-6)


@settings(deadline=None)
@given(st.text(max_size=40))
def test_any_text_is_a_position_or_a_bad_one(text):
    with contextlib.suppress(BadPosition):
        assert isinstance(parse_position(text), Position)

"""The page of drives: its sources, the road map's upload, what is taken up."""

from datetime import date
from decimal import Decimal

import osmium
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from practice import outbox
from practice.geo import Position
from practice.models import Message
from scheduling.driving import Pace, straight_metres
from scheduling.models import DrivenRoad, KeptDrives, RoadMap, TravelSettings
from scheduling.selectors.handling import handling_of, minutes_at
from scheduling.selectors.travel import (
    known_travel,
    learnt_pace,
    pace_in_use,
    road_file,
)
from scheduling.services import roadmaps
from scheduling.services.roadmaps import everywhere, upload_file
from scheduling.services.travel import keep_drives
from tests import factories

pytestmark = pytest.mark.django_db
SIDE, STEP = 12, 0.01


@pytest.fixture(scope="module")
def extract(tmp_path_factory):
    """Twelve by twelve crossings around the practice's home, a village's roads."""
    path = tmp_path_factory.mktemp("extract") / "a.osm.pbf"
    with osmium.SimpleWriter(str(path)) as writer:
        for i in range(SIDE):
            for j in range(SIDE):
                place = (-2.85 + j * STEP, 55.57 + i * STEP)
                writer.add_node(
                    osmium.osm.mutable.Node(id=1 + i * SIDE + j, location=place)
                )
        number = 0
        for i in range(SIDE):
            for line in (
                [1 + i * SIDE + j for j in range(SIDE)],
                [1 + j * SIDE + i for j in range(SIDE)],
            ):
                number += 1
                writer.add_way(
                    osmium.osm.mutable.Way(
                        id=number, nodes=line, tags={"highway": "tertiary"}
                    )
                )
    return path.read_bytes()


@pytest.fixture
def farrier(client, settings, tmp_path):
    settings.ROADS_ROOT = tmp_path / "roads"
    settings.OUTBOX_BELL = ""
    factories.make_practice()
    user = factories.make_user("farrier")
    client.force_login(user)
    return user


def send(client, content, name="county.osm.pbf"):
    file = SimpleUploadedFile(name, content)
    return client.post(reverse("scheduling:road_map"), {"file": file})


def test_an_uploaded_map_is_read_by_the_worker_and_used(client, farrier, extract):
    near = {"latitude": Decimal("55.61"), "longitude": Decimal("-2.80")}
    factories.make_barn(**near)
    factories.make_barn(latitude=Decimal("57.9"), longitude=Decimal("-4.0"))
    assert send(client, extract).status_code == 302
    assert send(client, extract).status_code == 302  # once more: the same
    waiting = RoadMap.objects.get()
    assert waiting.state == "waiting"
    progress = reverse("scheduling:road_map_progress")
    assert progress in client.get(reverse("scheduling:driving")).text
    answer = client.get(progress)
    assert (answer["X-Unfinished"], "Stop" in answer.text) == ("1", True)
    assert outbox.drain() == 2  # reading, then asking for the drives
    ready = RoadMap.objects.get()
    assert (ready.state, ready.percent) == ("ready", 100)
    assert ready.junctions >= SIDE * SIDE
    assert not upload_file(str(ready.pk)).exists()
    assert road_file(str(ready.pk)).stat().st_size < 20_000
    home, barn, far = everywhere()
    travel = known_travel([home, barn, far])
    assert travel.source_of(home, barn) == "roads"
    assert travel.source_of(home, far) == "estimate"  # beyond the map
    page = client.get(reverse("scheduling:driving")).content.decode()
    assert "road map" in page
    assert "in use" in page
    assert progress not in page
    assert client.get(progress)["X-Unfinished"] == "0"
    drop = reverse("scheduling:drop_road_map", args=[ready.pk])
    assert client.post(drop).status_code == 302
    assert not KeptDrives.objects.exists()


def test_another_map_takes_the_place_of_the_first(client, farrier, extract):
    send(client, extract)
    outbox.drain()
    first = RoadMap.objects.get()
    with osmium.SimpleWriter(str(upload_file("other")), overwrite=True) as writer:
        writer.add_node(osmium.osm.mutable.Node(id=1, location=(-2.8, 55.6)))
        writer.add_node(osmium.osm.mutable.Node(id=2, location=(-2.7, 55.6)))
        way = osmium.osm.mutable.Way(id=1, nodes=[1, 2], tags={"highway": "primary"})
        writer.add_way(way)
    send(client, upload_file("other").read_bytes())
    outbox.drain()
    first.refresh_from_db()
    assert first.state == "replaced"
    assert RoadMap.objects.get(state="ready").junctions == 2


def test_what_is_no_map_is_said_beside_the_field(client, farrier):
    answer = send(client, b"PK\x03\x04 a zip")
    assert answer.status_code == 422
    assert "no OpenStreetMap extract" in answer.content.decode()
    assert client.post(reverse("scheduling:road_map")).status_code == 422
    assert not RoadMap.objects.exists()


def test_a_broken_map_says_so_and_leaves_the_estimate(client, farrier, extract):
    send(client, extract[:300])
    outbox.drain()
    row = RoadMap.objects.get()
    assert row.state == "failed"
    assert "download it again" in row.answer
    assert (
        "could not be read"
        in client.get(reverse("scheduling:driving")).content.decode()
    )


def test_a_reading_over_which_the_worker_died_too_often_is_told(client, farrier):
    send(client, b"\0\0\0\x0d\x0a\x09OSMHeader")
    row = RoadMap.objects.get()
    Message.objects.filter(kind="read_road_map").update(state="failed")
    answer = client.get(reverse("scheduling:road_map_progress"))
    assert (answer["X-Unfinished"], row.state) == ("0", "waiting")
    assert "given up" in answer.text


def test_a_map_that_is_dropped_while_it_is_read_stays_dropped(farrier, extract):
    import io

    row = roadmaps.receive_map(name="a", upload=io.BytesIO(extract), by=farrier)
    calls = []

    def alive():
        calls.append(1)
        if len(calls) == 2:
            roadmaps.drop_map(road_map=row, by=farrier)
        return True

    roadmaps.read_job(pk=str(row.pk), alive=alive)
    assert not RoadMap.objects.exists()


def test_too_large_a_file_is_refused(client, farrier, extract, monkeypatch):
    monkeypatch.setattr(roadmaps, "MOST_BYTES", 100)
    answer = send(client, extract)
    assert answer.status_code == 422
    assert "larger than" in answer.content.decode()
    assert list(upload_file("x").parent.glob("*")) == []


def driven(farrier, minutes, count):
    for n in range(count):
        DrivenRoad.objects.create(
            key=f"{minutes}-{n}",
            farrier=farrier,
            day=date(2026, 3, 2),
            start_name="home",
            start_latitude=Decimal("55.6"),
            start_longitude=Decimal("-2.8"),
            end_name="barn",
            end_latitude=Decimal("55.62"),
            end_longitude=Decimal("-2.8"),
            minutes=minutes,
        )


def test_own_drives_propose_a_pace_that_is_taken_up_when_somebody_says_so(
    client, farrier
):
    driven(farrier, 8, 6)
    driven(farrier, 200, 1)
    page = client.get(reverse("scheduling:driving")).content.decode()
    assert "Take up what is proposed" in page
    assert not TravelSettings.objects.exists()
    # 2.224 km × 1.3 = 2.89 km: 4.34 min at 40 km/h; 8 less a minute of gate is 7.
    assert "× 1.614" in page
    said = {"circuity": "1.3", "lanes": "1.614", "roads": "1.614", "main": "1.614"}
    url = reverse("scheduling:set_pace")
    good = {**said, "stop_minutes": "1", "drives": "7"}
    assert client.post(url, good).status_code == 302
    assert pace_in_use().factors == (1.614, 1.614, 1.614)
    row = TravelSettings.objects.get()
    assert (row.drives, row.set_by) == (7, farrier)
    wild = DrivenRoad.objects.get(minutes=200)
    out = reverse("scheduling:leave_drive_out", args=[wild.pk, "out"])
    assert client.post(out).status_code == 302
    wild.refresh_from_db()
    assert wild.is_left_out


def test_the_odometer_teaches_the_circuity(client, farrier):
    driven(farrier, 8, 5)
    page = reverse("scheduling:driving")
    assert "Minutes alone can’t tell" in client.get(page).content.decode()
    rows = list(DrivenRoad.objects.order_by("pk"))
    short = client.post(
        reverse("scheduling:odometer", args=[rows[0].pk]), {"road": "1.9 km"}
    )
    assert short.status_code == 422
    assert "is that short" in short.content.decode()
    assert 'value="1.9 km"' in short.content.decode()
    for row in rows:
        url = reverse("scheduling:odometer", args=[row.pk])
        assert client.post(url, {"road": "3.6"}).status_code == 302
    # 3600 m of road over 2223.9 m, read off a sphere of 6 371 km: 0.02° of arc.
    assert "Proposed: × 1.619" in client.get(page).content.decode()
    assert not TravelSettings.objects.exists()
    said = {"circuity": "1.619", "lanes": "1.3", "roads": "1.3", "main": "1.3"}
    good = {**said, "stop_minutes": "1", "drives": "5", "road_count": "5"}
    client.post(reverse("scheduling:set_pace"), good)
    assert pace_in_use().circuity == 1.619
    assert "and 5 roads of known length" in client.get(page).content.decode()


def test_kept_roads_teach_it_too(farrier):
    factories.Practice.objects.update(home_latitude=55.6, home_longitude=-2.8)
    places = [Position(55.6, -2.8)] + [Position(55.6 + n / 50, -2.8) for n in (1, 2, 3)]
    straight = straight_metres(places)
    roadmap = RoadMap.objects.create(
        name="a", sha256="a", size_bytes=1, state=RoadMap.State.READY
    )
    keep_drives(
        source=f"roads:{roadmap.sha256}",
        starts=places,
        ends=places,
        seconds=straight / 10,
        metres=straight * 1.5,
    )
    learnt = learnt_pace(places, Pace())
    assert (learnt.roads.roads, learnt.roads.circuity) == (6, 1.5)


def test_a_pace_that_is_none_is_refused_with_what_was_typed(client, farrier):
    url = reverse("scheduling:set_pace")
    said = {"circuity": "0.5", "lanes": "1", "roads": "1", "main": "x"}
    answer = client.post(url, {**said, "stop_minutes": "1"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="0.5"' in page
    assert "give 1 or more" in page
    slow = {"circuity": "1.3", "lanes": "0.4", "roads": "3", "main": "3"}
    answer = client.post(url, {**slow, "stop_minutes": "1"})
    assert answer.status_code == 422
    assert "slower than a lane" in answer.content.decode()


def test_asking_anew_queues_one_job(client, farrier):
    client.post(reverse("scheduling:ask_anew"))
    assert Message.objects.filter(kind="fetch_drives").count() == 1


def test_minutes_of_a_work_are_taken_up(client, farrier):
    work = factories.make_work(minutes=60)
    url = reverse("scheduling:take_lesson", args=[work.pk])
    assert client.post(url, {"minutes": "75"}).status_code == 302
    assert client.post(url, {"minutes": "many"}).status_code == 302
    work.refresh_from_db()
    assert work.minutes == 75
    horse = factories.make_horse(usual_work=work)
    url = reverse("scheduling:take_horse_lesson", args=[work.pk, horse.pk])
    assert client.post(url, {"minutes": "90"}).status_code == 302
    assert minutes_at(horse, handling_of([horse])) == 90
    assert client.get(reverse("scheduling:learning")).status_code == 200

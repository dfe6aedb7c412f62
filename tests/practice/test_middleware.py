"""What surrounds each request."""

import pytest

pytestmark = pytest.mark.django_db


def test_every_answer_has_an_id_and_a_strict_content_policy(as_stranger):
    answer = as_stranger.get("/nowhere/")
    assert len(answer["X-Request-Id"]) == 12
    policy = answer["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


def test_the_host_of_the_tiles_is_let_in_where_tiles_are_configured(
    as_stranger, settings
):
    settings.TILE_URL = "https://{s}.tiles.example.org/{z}/{x}/{y}.png"
    policy = as_stranger.get("/nowhere/")["Content-Security-Policy"]
    assert "img-src 'self' data: blob: https://*.tiles.example.org;" in policy

"""What surrounds each request."""

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from practice.middleware import PackText

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


def test_pages_are_packed_and_photos_are_not(as_farrier):
    page = as_farrier.get("/horses/", headers={"accept-encoding": "gzip"})
    assert page["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in page["Vary"]

    def picture(request):
        return HttpResponse(b"x" * 1000, content_type="image/jpeg")

    request = RequestFactory().get("/", headers={"accept-encoding": "gzip"})
    assert "Content-Encoding" not in PackText(picture)(request).headers

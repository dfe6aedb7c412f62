"""What surrounds each request: bounds, caches, and what the log leaves out."""

import json
import logging

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as Browser

from practice.logs import HideTokens
from practice.models import SignInLink
from practice.services.users import change_user, invite_user

pytestmark = pytest.mark.django_db


def sent(browser, path, size, kind="application/json"):
    """Posts a body that says it is so many bytes long."""
    return browser.generic("POST", path, b"{}", kind, CONTENT_LENGTH=str(size))


@pytest.mark.parametrize(
    "kind", ["application/json", "multipart/form-data; boundary=x"]
)
@pytest.mark.parametrize("path", ["/api/v1/token/", "/sign-in/"])
def test_a_stranger_sends_little(practice, path, kind):
    assert sent(Browser(), path, 6_000_000, kind).status_code == 413


def test_who_is_signed_in_sends_files_up_to_a_bound(as_farrier, settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 400
    sheet = SimpleUploadedFile("herd.csv", b"Owner,Horse\n" + b"Ann,Kit\n" * 200)
    assert as_farrier.post("/import/", {"file": sheet}).status_code == 302
    kind = "multipart/form-data; boundary=x"
    assert sent(as_farrier, "/import/", 200_000_000, kind).status_code == 413
    assert sent(as_farrier, "/api/v1/clients/", 6_000_000).status_code == 413


def test_pages_of_the_signed_in_are_kept_by_no_cache(as_farrier, as_owner):
    assert as_farrier.get("/clients/")["Cache-Control"] == "private, no-cache"
    assert as_owner.get("/my/")["Cache-Control"] == "private, no-cache"
    listed = as_farrier.get("/api/v1/clients/")
    assert listed["Cache-Control"] == "private, no-store"
    assert as_farrier.post("/sign-out/")["Clear-Site-Data"] == '"cache"'


@pytest.mark.parametrize(
    ("path", "shown"),
    [
        ("/sign-in/link/s3cret-T0ken/", "/sign-in/link/…/"),
        ("/feeds/s3cret-T0ken.ics", "/feeds/…"),
        ("/clients/7/", "/clients/7/"),
    ],
)
def test_the_log_holds_no_secret_address(path, shown):
    record = logging.LogRecord("x", 40, "x", 1, "failed: %s", (path,), None)
    assert HideTokens().filter(record)
    assert record.getMessage() == f"failed: {shown}"


def test_the_log_that_is_written_hides_it_too(settings):
    (handler,) = settings.LOGGING["handlers"].values()
    assert handler["filters"] == ["hide_tokens"]
    assert json.dumps(settings.LOGGING["filters"]).count("HideTokens") == 1


def test_a_new_address_ends_the_links_mailed_to_the_old_one(farrier, office):
    invite_user(user=office, by=farrier)
    change_user(user=office, by=farrier, email="new@example.org")
    assert not SignInLink.objects.filter(user=office, used_at__isnull=True).exists()

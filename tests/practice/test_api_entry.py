"""The way into the API."""

import json

import pytest
from django.core.management import call_command
from django.urls import reverse

from practice.models import ApiToken
from practice.services.tokens import make_token
from tests import factories
from tests.openapi import assert_described

pytestmark = pytest.mark.django_db

PASSWORD = "a long enough password"
TOKEN = "/api/v1/token/"


def post(browser, path, body, **more):
    return browser.post(path, json.dumps(body), content_type="application/json", **more)


def test_e_mail_and_password_give_a_token_that_opens_doors(client, farrier):
    answer = post(client, TOKEN, {"email": farrier.email, "password": PASSWORD})
    body = assert_described(answer)
    assert answer.status_code == 200
    assert body["role"] == "farrier"
    assert answer["Cache-Control"] == "no-store"
    bearer = {"authorization": f"Token {body['token']}"}
    assert client.delete(TOKEN, headers=bearer).status_code == 204
    assert not ApiToken.objects.exists()
    refused = client.delete(TOKEN, headers=bearer)
    assert refused.status_code == 401


def test_asking_again_gives_another_token_and_both_hold(client, farrier):
    body = {"email": farrier.email.upper(), "password": PASSWORD, "name": "a phone"}
    texts = {post(client, TOKEN, body).json()["token"] for _ in range(2)}
    assert len(texts) == 2
    for text in texts:
        bearer = {"authorization": f"Token {text}"}
        assert client.get("/api/v1/clients/", headers=bearer).status_code == 200
    assert set(ApiToken.objects.values_list("name", flat=True)) == {"a phone"}


def test_a_session_gives_no_token_back(as_farrier):
    assert as_farrier.delete(TOKEN).status_code == 422


@pytest.mark.parametrize("known", [True, False])
def test_a_wrong_password_and_an_unknown_address_say_the_same(client, farrier, known):
    email = farrier.email if known else "nobody@example.org"
    answer = post(client, TOKEN, {"email": email, "password": "wrong"})
    body = assert_described(answer)
    assert answer.status_code == 422
    assert body["errors"][0]["pointer"] == "#/password"
    assert "do not go together" in body["detail"]


def test_the_sixth_wrong_password_in_a_row_waits(client, farrier):
    body = {"email": farrier.email, "password": "wrong"}
    codes = [post(client, TOKEN, body).status_code for _ in range(6)]
    assert codes == [422] * 5 + [429]
    late = post(client, TOKEN, {"email": farrier.email, "password": PASSWORD})
    assert late.status_code == 429
    assert late["Retry-After"] == "900"
    assert late["Content-Type"] == "application/problem+json"


def test_a_user_who_left_gets_no_token_and_the_old_one_stops(client, office):
    text = make_token(user=office, name="a phone")
    office.is_active = False
    office.save(update_fields=["is_active"])
    answer = post(client, TOKEN, {"email": office.email, "password": PASSWORD})
    assert answer.status_code == 422
    bearer = {"authorization": f"Token {text}"}
    assert client.delete(TOKEN, headers=bearer).status_code == 401


def test_what_is_no_json_is_told_so(client, practice):
    answer = client.post(TOKEN, "{", content_type="application/json")
    assert answer.status_code == 400
    assert assert_described(answer)["title"] == "The request can't be read"


def test_a_missing_field_and_a_strange_one_are_pointed_at(client, practice):
    answer = post(client, TOKEN, {"email": "a@example.org"})
    assert answer.status_code == 422
    assert answer.json()["errors"] == [
        {"pointer": "#/password", "detail": "This field is required."}
    ]
    body = {"email": "a@example.org", "password": "x", "pasword": "y"}
    strange = post(client, TOKEN, body)
    assert strange.json()["errors"][0]["pointer"] == "#/pasword"


def test_a_session_without_the_csrf_token_changes_nothing(farrier):
    from django.test import Client as Browser

    browser = Browser(enforce_csrf_checks=True)
    browser.force_login(farrier)
    answer = browser.delete(TOKEN)
    assert answer.status_code == 403
    assert answer["Content-Type"] == "application/problem+json"


def test_the_description_is_drawn_up_without_a_warning(tmp_path, db):
    target = tmp_path / "schema.yaml"
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(target))
    assert "openapi: 3.1" in target.read_text(encoding="utf-8")


def test_the_description_is_there_for_machines_and_for_people(client, practice):
    told = client.get(reverse("practice:api_schema"))
    assert told.json()["openapi"].startswith("3.1")
    page = client.get(reverse("practice:api")).content.decode()
    for path in told.json()["paths"]:
        assert path in page


def test_an_owner_s_token_opens_no_door_of_the_practice(client, practice):
    user = factories.make_owner()
    text = make_token(user=user, name="a phone")
    bearer = {"authorization": f"Token {text}"}
    assert client.get("/api/v1/horses/", headers=bearer).status_code == 403

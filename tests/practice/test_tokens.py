"""Tokens of the API: shown once, kept as a digest, taken back."""

import json
import re
from datetime import timedelta

import pytest
from django.core import serializers
from django.utils import timezone

from practice.errors import Refused
from practice.models import ApiToken, Change
from practice.services.tokens import MOST_TOKENS, make_token, token_of
from tests import factories

pytestmark = pytest.mark.django_db


def told(text):
    return {"authorization": f"Token {text}"}


def test_of_a_token_the_digest_alone_is_kept(farrier):
    text = make_token(user=farrier, name="a spreadsheet")
    rows = [*ApiToken.objects.all(), *Change.objects.all()]
    assert text not in serializers.serialize("json", rows)
    assert token_of(text).user == farrier
    assert token_of(text + "x") is None
    assert token_of(ApiToken.objects.get().token_sha256) is None


def test_a_token_is_made_on_the_page_and_shown_once(as_office, office, client):
    sent = {"what": "token", "token-name": "a spreadsheet"}
    made = as_office.post("/account/", sent)
    assert made.status_code == 200
    assert "no-store" in made["Cache-Control"]
    text = re.search(r"<code>([\w-]{43})</code>", made.content.decode())[1]
    later = as_office.get("/account/").content.decode()
    assert text not in later
    assert "a spreadsheet" in later
    assert "not used yet" in later
    assert client.get("/api/v1/clients/", headers=told(text)).status_code == 200
    assert "last used" in as_office.get("/account/").content.decode()


def test_a_token_without_a_name_is_asked_for_one(as_office):
    answer = as_office.post("/account/", {"what": "token", "token-name": " "})
    assert answer.status_code == 422
    assert not ApiToken.objects.exists()


def test_a_second_tap_makes_no_second_token(as_office):
    sent = {"what": "token", "token-name": "a spreadsheet"}
    assert [as_office.post("/account/", sent).status_code for _ in range(2)] == [
        200,
        422,
    ]
    assert ApiToken.objects.count() == 1


def test_a_token_taken_back_on_the_page_opens_nothing(as_office, office, client):
    text = make_token(user=office, name="a spreadsheet")
    path = f"/account/tokens/{ApiToken.objects.get().pk}/back/"
    assert as_office.post(path).status_code == 302
    answer = client.get("/api/v1/clients/", headers=told(text))
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == "Token"
    assert json.loads(answer.content)["title"] == "Sign in first"


def test_nobody_takes_back_another_s_token(as_farrier, office):
    make_token(user=office, name="a spreadsheet")
    path = f"/account/tokens/{ApiToken.objects.get().pk}/back/"
    assert as_farrier.post(path).status_code == 404
    assert ApiToken.objects.exists()


def test_a_token_opens_no_page(client, farrier):
    text = make_token(user=farrier, name="a spreadsheet")
    assert client.get("/clients/", headers=told(text)).status_code == 302


def test_the_last_use_is_noted_now_and_then(farrier):
    text = make_token(user=farrier, name="a spreadsheet")
    token_of(text)
    first = ApiToken.objects.get().last_used_at
    token_of(text)
    assert ApiToken.objects.get().last_used_at == first
    ApiToken.objects.update(last_used_at=first - timedelta(hours=1))
    token_of(text)
    assert timezone.now() - ApiToken.objects.get().last_used_at < timedelta(minutes=5)


def test_there_is_an_end_to_tokens(farrier):
    for n in range(MOST_TOKENS):
        make_token(user=farrier, name=f"program {n}")
    with pytest.raises(Refused, match="take one back"):
        make_token(user=farrier, name="one more")
    assert make_token(user=factories.make_user("office"), name="theirs")


@pytest.mark.parametrize("header", ["Token", "Token \xff\xfe", "Token a b", "Bearer x"])
def test_a_header_that_is_no_token_lets_nobody_in(client, practice, header):
    answer = client.get("/api/v1/clients/", HTTP_AUTHORIZATION=header)
    assert answer.status_code == 401

"""`rounds` over the API: the same answer, bounded, one search at a time."""

import json

from practice.api import reckonings
from tests.scheduling.planner.test_document import DOCUMENT


def post(browser, document):
    return browser.post(
        "/api/v1/reckon/rounds", json.dumps(document), content_type="application/json"
    )


def test_rounds_are_reckoned_for_signed_in_users_within_bounds(as_farrier):
    answer = post(as_farrier, {**DOCUMENT, "seconds": 0.4})
    assert answer.status_code == 200
    assert answer.json()["cost"]["drive"] == 50
    refused = post(as_farrier, {**DOCUMENT, "seconds": 60})
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["pointer"] == "#/seconds"


def test_one_search_at_a_time_takes_the_web_process(as_farrier):
    with reckonings._searching:
        assert post(as_farrier, DOCUMENT).status_code == 503

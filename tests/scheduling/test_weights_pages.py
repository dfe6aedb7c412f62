"""What planning weighs: the page of whoever runs the practice, and what follows it."""

import pytest
from django.urls import reverse

from scheduling.models import PlanningWeights
from scheduling.planner.weighing import USUAL
from scheduling.selectors.weights import weights_in_use
from tests.scheduling.proposed import ready

pytestmark = pytest.mark.django_db
PAGE = "/weights/"


def typed(**over):
    said = {name: getattr(USUAL, name) for name in USUAL.__slots__}
    return said | {"keep_together": 2} | over


def test_weights_are_changed_kept_and_put_back(as_farrier, practice):
    assert as_farrier.get(PAGE).status_code == 200
    wrong = as_farrier.post(PAGE, typed(late=99, early="1.5"))
    assert wrong.status_code == 422
    assert "Give 0.1 to 20." in wrong.content.decode()
    assert 'value="1.5"' in wrong.content.decode()
    assert as_farrier.post(PAGE, typed(late=4, keep_together=3)).status_code == 302
    assert PlanningWeights.objects.get().own == {"late": 4.0, "keep_together": 3.0}
    page = as_farrier.get(PAGE).content.decode()
    assert "weighs as much as 30 minutes at the wheel" in page
    assert as_farrier.post(reverse("scheduling:usual_weights")).status_code == 302
    assert weights_in_use() == USUAL


def test_examples_follow_what_is_typed(as_farrier, practice):
    url = reverse("scheduling:weight_examples")
    said = as_farrier.get(url, typed(late=4, early="x")).json()
    assert "5 days late weighs as much as 30 minutes" in said["late"]
    assert "5 days early weighs as much as 2.5 minutes" in said["early"]


def test_a_proposal_says_what_it_was_weighed_with(as_farrier, farrier, practice):
    as_farrier.post(PAGE, typed(late=4, day=45))
    made = ready(by=farrier)
    as_farrier.post(PAGE, typed())
    made.refresh_from_db()
    assert made.world["weights"]["late"] == 4.0
    page = as_farrier.get(reverse("scheduling:proposal", args=[made.pk]))
    assert "usually 30" in page.content.decode()
    told = as_farrier.get(f"/api/v1/proposals/{made.pk}/").json()
    assert told["weights"]["day"] == 45

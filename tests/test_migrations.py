"""The tables are what the models say."""

import pytest
from django.core.management import call_command


@pytest.mark.django_db
def test_no_model_has_drifted_from_its_migrations():
    call_command("makemigrations", "--check", "--dry-run", verbosity=0)

"""``manage.py demo``: the invented practice, for trying the program out."""

import logging
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from practice import demo
from practice.errors import Refused
from practice.models import Practice, User


class Command(BaseCommand):
    help = (
        "Load the demo practice into an empty installation and print its sign-ins. "
        "Running it again changes nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--set",
            choices=demo.SETS,
            default=demo.SETS[0],
            help="whinbrae: Scottish Borders, GBP, VAT, mm (the default); "
            "tamarack: Vermont, USD, sales tax on goods only, inches",
        )

    def handle(self, *_: object, **options: Any) -> None:
        try:
            with transaction.atomic(), _without_news():
                _load(options["set"])
        except Refused as refusal:
            raise CommandError(refusal.sentence, returncode=2) from refusal
        self.stdout.write(sign_ins())


@contextmanager
def _without_news() -> Iterator[None]:
    """Each invoice that is issued logs a line; nobody wants forty of them here."""
    logging.disable(logging.INFO)
    try:
        yield
    finally:
        logging.disable(logging.NOTSET)


def _load(which: str) -> None:
    demo.load(today=timezone.localdate(), which=which)
    today = timezone.localdate(timezone=Practice.objects.the_one().zone)
    for app in settings.HOUSE_APPS[1:]:
        import_module(f"{app}.demo").load(today=today)


def sign_ins() -> str:
    """Who can sign in to the demo, as lines for a terminal."""
    lines = [
        f"Demo: {Practice.objects.the_one().name}. Everyone in it is invented.",
        f"Password of the staff, for trying out only: {demo.PASSWORD}",
    ]
    for user in User.objects.order_by("pk"):
        how = "by link, see below" if user.role == User.Role.OWNER else "password"
        lines.append(f"  {user.get_role_display():<12}  {user.email:<28}  {how}")
    lines.append(
        "An owner asks for a link on the sign-in page; the mail with it is put into "
        f"{settings.EMAIL_FILE_PATH}."
    )
    return "\n".join(lines)

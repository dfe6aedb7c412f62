"""Answers without their pages: for tests that ask of a thousand answers which they are,
and not how they look."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import Any
from unittest import mock

from django.template.base import Template

PLACES_OF_PDF = ("practice.pdf.render", "horses.pdf.render", "scheduling.pdf.render")


@contextmanager
def unrendered() -> Iterator[None]:
    """Views, forms, services and queries run; templates and PDFs come out empty."""

    def empty(*args: Any, **kwargs: Any) -> str:
        return ""

    def no_pages(*args: Any, **kwargs: Any) -> bytes:
        return b"%PDF-1.7\n%%EOF\n"

    with ExitStack() as patched:
        patched.enter_context(mock.patch.object(Template, "render", empty))
        for place in PLACES_OF_PDF:
            patched.enter_context(mock.patch(place, no_pages))
        yield

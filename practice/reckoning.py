"""One reckoning run alone on a JSON document: its shape, its reader, its refusals.

Pure. Each app's ``reckon`` room offers ``RECKONINGS``: a name → ``Reckoning``. The
command and the API read the text with ``read``, then ``answer`` with it. Nothing is
guessed: a document that isn't exactly what the schema says is a ``BadDocument``.
"""

import importlib
import importlib.util
import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

DIALECT = "https://json-schema.org/draft/2020-12/schema"
"""What ``$schema`` says in each of our schemas."""

MOST_BYTES = 1_000_000
"""The longest document taken, in bytes of UTF-8."""

_HALF_ESCAPE = re.compile(r"\\u[dD][89a-fA-F]")
"""An escape that may be half of a surrogate pair (RFC 8259, 8.2)."""

MOST_DIGITS = 40
"""The longest number taken, in characters: no reckoning of ours needs more."""


class BadDocument(Exception):
    """A document that can't be reckoned with.

    Args:
        pointer: RFC 6901 JSON pointer of the place; "" is the whole document.
        sentence: what is wrong there, in one line.
    """

    def __init__(self, pointer: str, sentence: str) -> None:
        self.pointer = pointer
        self.sentence = " ".join(sentence.split())
        super().__init__(self.line)

    @property
    def line(self) -> str:
        """Pointer and sentence as one line; the whole document shows as ``""``."""
        place = self.pointer or '""'
        return f"{place}: {self.sentence}"


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a reckoning that searches may use.

    Args:
        spent_seconds: used already, before the document was read.
        most_seconds: none takes longer; None where the asker waits alone.
        workers: processes that may search at once, this one among them.
    """

    spent_seconds: float = 0.0
    most_seconds: float | None = None
    workers: int = 1


@dataclass(frozen=True, slots=True)
class Reckoning:
    """``run`` takes a document that fits ``schema_in`` and gives one that fits
    ``schema_out`` (both JSON Schema 2020-12); it raises BadDocument for what a
    schema can't say. ``run_within``: the same within bounds, of one that searches."""

    schema_in: Mapping[str, Any]
    schema_out: Mapping[str, Any]
    run: Callable[[dict[str, Any]], dict[str, Any]]
    run_within: Callable[[dict[str, Any], Bounds], dict[str, Any]] | None = None


class Written(float):
    """A JSON number with a point or an exponent: a float that remembers its text.

    Geometry takes it as the float it is; whoever needs the number exactly as it was
    written asks for ``exact``.
    """

    text: str

    def __new__(cls, text: str) -> "Written":
        number = super().__new__(cls, text)
        if len(text) > MOST_DIGITS:
            raise BadDocument("", f"The number {text[:20]}… has too many digits.")
        if number in (float("inf"), float("-inf")):
            raise BadDocument("", f"The number {text[:40]} is too large.")
        number.text = text
        return number

    @property
    def exact(self) -> Decimal:
        """The number as written, to its last digit."""
        return Decimal(self.text)


def exact(number: float | str) -> Decimal:
    """The Decimal that a JSON number or a numeric string says, digit for digit.

    Raises ValueError for what isn't a finite number.
    """
    if isinstance(number, Written):
        return number.exact
    try:
        value = Decimal(str(number))
    except InvalidOperation as fault:
        raise ValueError(f"{number!r} is not a number") from fault
    if not value.is_finite():
        raise ValueError(f"{number!r} is not a finite number")
    return value


def pointer(path: Sequence[str | int]) -> str:
    """The RFC 6901 pointer for a path of keys and indexes; () gives ""."""
    return "".join(
        "/" + str(part).replace("~", "~0").replace("/", "~1") for part in path
    )


def _whole(text: str) -> int:
    if len(text) > MOST_DIGITS:
        raise BadDocument("", f"The number {text[:20]}… has too many digits.")
    return int(text)


def _no_constant(name: str) -> Any:
    raise BadDocument("", f"{name} is not a number that JSON knows.")


def _no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        keys = [key for key, _ in pairs]
        twin = next(key for key in keys if keys.count(key) > 1)
        raise BadDocument(pointer((twin,)), "This key stands twice in one object.")
    return found


def read(raw: bytes) -> Any:
    """The value that a JSON text says, strictly.

    No NaN or Infinity, no key twice in an object, no number beyond a float's range,
    no text over ``MOST_BYTES``; numbers with a point come as ``Written``.
    Raises BadDocument.
    """
    if len(raw) > MOST_BYTES:
        raise BadDocument("", f"The document is longer than {MOST_BYTES} bytes.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise BadDocument("", "The document is not UTF-8 text.") from fault
    try:
        found = json.loads(
            text,
            parse_float=Written,
            parse_int=_whole,
            parse_constant=_no_constant,
            object_pairs_hook=_no_twins,
        )
    except json.JSONDecodeError as fault:
        raise BadDocument(
            "", f"Not JSON at line {fault.lineno}, column {fault.colno}: {fault.msg}."
        ) from fault
    except RecursionError as fault:
        raise BadDocument("", "The document is nested too deeply.") from fault
    if _HALF_ESCAPE.search(text) and not _is_text(found):
        raise BadDocument("", "An escape such as \\ud800 is half a character.")
    return found


def _is_text(found: Any) -> bool:
    """Whether every string can be written down again as UTF-8."""
    try:
        json.dumps(found, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        return False
    return True


def _told(error: ValidationError) -> BadDocument:
    """The place and sentence of one schema error; a missing or unknown key is
    pointed at by its own name."""
    path = list(error.absolute_path)
    instance = error.instance
    schema = error.schema if isinstance(error.schema, Mapping) else {}
    if error.validator == "required" and isinstance(instance, dict):
        absent = [key for key in schema.get("required", ()) if key not in instance]
        return BadDocument(pointer([*path, absent[0]]), "This key is missing.")
    if error.validator == "additionalProperties" and isinstance(instance, dict):
        known = schema.get("properties", {})
        unknown = sorted(key for key in instance if key not in known)
        if unknown:
            return BadDocument(pointer([*path, unknown[0]]), "This key is not known.")
    shown = json.dumps(instance, default=str)
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    said = schema.get("description")
    if said and error.validator in ("pattern", "type", "anyOf", "enum"):
        return BadDocument(pointer(path), f"{shown} does not fit. Expected: {said}")
    message = error.message if len(error.message) <= 200 else f"{shown} does not fit"
    return BadDocument(pointer(path), f"{message.rstrip('.')}.")


def check(document: Any, schema: Mapping[str, Any]) -> None:
    """Raise BadDocument for the first thing in which the document breaks the schema."""
    # Lazily, so that a long bad document costs no more than its first fault.
    first = next(Draft202012Validator(dict(schema)).iter_errors(document), None)
    if first is not None:
        raise _told(first)


def answer(
    reckoning: Reckoning, document: Any, bounds: Bounds | None = None
) -> dict[str, Any]:
    """Check the document against ``schema_in`` and run. Raises BadDocument."""
    check(document, reckoning.schema_in)
    if reckoning.run_within is None:
        return reckoning.run(document)
    return reckoning.run_within(document, bounds or Bounds())


def gather(apps: Iterable[str]) -> dict[str, Reckoning]:
    """All reckonings by name, from the ``reckon`` room of each app that has one.

    By name and not by import: the base app may not know the apps above it.
    """
    found: dict[str, Reckoning] = {}
    for app in apps:
        if importlib.util.find_spec(f"{app}.reckon"):
            found |= importlib.import_module(f"{app}.reckon").RECKONINGS
    return found

"""The API's description as rows that a page can show without asking. Pure reading."""

from dataclasses import dataclass
from typing import Any

from practice.api.schema import METHODS


@dataclass(frozen=True, slots=True)
class Field:
    """One parameter, or one field of a body."""

    name: str
    kind: str
    is_needed: bool
    note: str


@dataclass(frozen=True, slots=True)
class Answer:
    """One code that may come back, with what it carries."""

    code: str
    word: str
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class Operation:
    """One method of one address."""

    method: str
    path: str
    key: str
    summary: str
    note: str
    parameters: tuple[Field, ...]
    body: tuple[Field, ...]
    answers: tuple[Answer, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """The operations of one resource."""

    name: str
    operations: tuple[Operation, ...]


def groups(schema: dict[str, Any]) -> list[Group]:
    """The schema's operations by resource, in the order of their addresses."""
    found: dict[str, list[Operation]] = {}
    for path, operations in schema["paths"].items():
        for method in METHODS:
            if told := operations.get(method):
                name = (told.get("tags") or ["other"])[0]
                found.setdefault(name, []).append(
                    _operation(schema, method, path, told)
                )
    return [Group(name, tuple(rows)) for name, rows in sorted(found.items())]


def _operation(
    schema: dict[str, Any], method: str, path: str, told: dict[str, Any]
) -> Operation:
    key = str(told.get("operationId", f"{method}-{path}"))
    return Operation(
        method=method.upper(),
        path=path,
        key=key,
        summary=str(told.get("summary") or key.replace("_", " ").capitalize()),
        note=str(told.get("description") or ""),
        parameters=tuple(
            Field(
                name=row["name"],
                kind=_kind(row.get("schema", {})),
                is_needed=bool(row.get("required")),
                note=str(row.get("description") or f"in the {row['in']}"),
            )
            for row in told.get("parameters", [])
        ),
        body=_content_fields(schema, told.get("requestBody", {})),
        answers=tuple(
            Answer(code, str(row.get("description") or ""), _success(schema, code, row))
            for code, row in sorted(told.get("responses", {}).items())
        ),
    )


def _success(
    schema: dict[str, Any], code: str, row: dict[str, Any]
) -> tuple[Field, ...]:
    return _content_fields(schema, row) if code.startswith("2") else ()


def _content_fields(
    schema: dict[str, Any], holder: dict[str, Any]
) -> tuple[Field, ...]:
    for content in holder.get("content", {}).values():
        return _fields(schema, content.get("schema", {}))
    return ()


def _fields(schema: dict[str, Any], shape: dict[str, Any]) -> tuple[Field, ...]:
    shape = _resolved(schema, shape)
    if shape.get("type") == "array":
        return _fields(schema, shape.get("items", {}))
    rows = shape.get("properties", {})
    if "results" in rows:  # a page of rows: what a row holds is what matters
        return _fields(schema, rows["results"])
    needed = set(shape.get("required", []))
    return tuple(
        Field(
            name=name,
            kind=_kind(row),
            is_needed=name in needed,
            note=str(_resolved(schema, row).get("description") or "").split("\n")[0],
        )
        for name, row in rows.items()
    )


def _resolved(schema: dict[str, Any], shape: dict[str, Any]) -> dict[str, Any]:
    """The shape behind a reference, also where it is wrapped in ``allOf``."""
    for part in shape.get("allOf", [])[:1]:
        return _resolved(schema, part)
    name = str(shape.get("$ref", "")).rpartition("/")[2]
    if not name:
        return shape
    found: dict[str, Any] = schema["components"]["schemas"].get(name, {})
    return found


def _kind(shape: dict[str, Any]) -> str:
    """Its type in a word: ``string (date)``, ``list of integer``, ``Horse``."""
    if "$ref" in shape:
        return str(shape["$ref"]).rpartition("/")[2]
    for joined in ("allOf", "oneOf", "anyOf"):
        if joined in shape:
            return " or ".join(_kind(part) for part in shape[joined])
    kinds = shape.get("type", "")
    if isinstance(kinds, list):
        return " or ".join(kinds)
    if kinds == "array":
        return f"list of {_kind(shape.get('items', {}))}"
    tail = f" ({shape['format']})" if "format" in shape else ""
    return f"{kinds or 'any'}{tail}"

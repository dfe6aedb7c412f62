"""The API's description (OpenAPI): drawn up once a process, finished by the house."""

from functools import lru_cache
from typing import Any

from drf_spectacular.generators import SchemaGenerator

PROBLEM = "application/problem+json"
METHODS = ("get", "post", "put", "patch", "delete")
_SIGNED_IN = {"401": "Sign in first", "403": "Not for this role"}


def add_problems(
    result: dict[str, Any], generator: Any, request: Any, public: bool
) -> dict[str, Any]:
    """Every operation tells which problem details it may answer with.

    A hook of the generator: RFC 9457 answers come from one handler, so they are added
    here and not at each view.
    """
    result["components"].setdefault("schemas", {})["Problem"] = _problem()
    for path, operations in result["paths"].items():
        for method in METHODS:
            if method in operations:
                _add_to(operations[method], has_key="{" in path)
    return result


def _add_to(operation: dict[str, Any], *, has_key: bool) -> None:
    answers = dict(_SIGNED_IN) if operation.get("security") != [{}] else {}
    if has_key:
        answers["404"] = "Not there, or not yours"
    if "requestBody" in operation:
        answers |= {
            "400": "Not JSON",
            "422": "Something in it needs mending: see errors",
        }
    for code, word in answers.items():
        operation["responses"].setdefault(
            code,
            {
                "description": word,
                "content": {
                    PROBLEM: {"schema": {"$ref": "#/components/schemas/Problem"}}
                },
            },
        )


def _problem() -> dict[str, Any]:
    text = {"type": "string"}
    return {
        "type": "object",
        "description": "What went wrong, by RFC 9457.",
        "required": ["type", "title", "status", "detail"],
        "properties": {
            "type": text,
            "title": text,
            "status": {"type": "integer"},
            "detail": text,
            "errors": {
                "type": "array",
                "items": {
                    "type": "object",
                    "required": ["pointer", "detail"],
                    "properties": {
                        "pointer": {
                            "type": "string",
                            "description": "JSON pointer into the body sent: #/name",
                        },
                        "detail": text,
                    },
                },
            },
        },
    }


@lru_cache(maxsize=1)
def the_schema() -> dict[str, Any]:
    """The whole description, as JSON values. It does not change while it runs."""
    generator: Any = SchemaGenerator
    drawn: dict[str, Any] = generator().get_schema(request=None, public=True)
    return drawn

"""Answers of the API held against its own description (OpenAPI 3.1 is JSON Schema)."""

import re
from functools import lru_cache
from typing import Any

from jsonschema import Draft202012Validator
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from practice.api.schema import the_schema

BASE = "urn:house:openapi"


@lru_cache(maxsize=1)
def _registry() -> Any:
    resource = Resource.from_contents(the_schema(), default_specification=DRAFT202012)
    return Registry().with_resource(BASE, resource)


def _operation(method: str, path: str) -> tuple[str, str]:
    for template, operations in the_schema()["paths"].items():
        pattern = re.sub(r"\{[^}]+\}", "[^/]+", template)
        if re.fullmatch(pattern, path) and method in operations:
            return template, method
    raise AssertionError(f"the description has no {method} {path}")


def assert_described(response: Any) -> Any:
    """That this answer is one that the description tells of; gives its JSON back."""
    request = response.request
    method, path = request["REQUEST_METHOD"].lower(), request["PATH_INFO"]
    template, method = _operation(method, path)
    told = the_schema()["paths"][template][method]["responses"]
    code = str(response.status_code)
    assert code in told, f"{method} {template} does not tell of {code}: {sorted(told)}"
    content = told[code].get("content")
    if not content:
        assert not response.content
        return None
    kind = response["Content-Type"].split(";")[0]
    assert kind in content, f"{kind} is not among {sorted(content)}"
    escaped = template.replace("~", "~0").replace("/", "~1")
    pointer = f"#/paths/{escaped}/{method}/responses/{code}/content/{kind.replace('/', '~1')}/schema"
    validator = Draft202012Validator(
        {"$ref": BASE + pointer.replace("{", "%7B").replace("}", "%7D")},
        registry=_registry(),
        format_checker=Draft202012Validator.FORMAT_CHECKER,
    )
    body = response.json()
    validator.validate(body)
    return body

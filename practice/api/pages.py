"""How long lists of the API are handed out."""

from typing import Any

from rest_framework.pagination import PageNumberPagination


class Pages(PageNumberPagination):
    """``?page=2&per_page=100``: fifty rows a page, two hundred at the most."""

    page_size = 50
    page_size_query_param = "per_page"
    max_page_size = 200

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """In the words of OpenAPI 3.1, where a null is a type."""
        address = {"type": ["string", "null"], "format": "uri"}
        return {
            "type": "object",
            "required": ["count", "next", "previous", "results"],
            "properties": {
                "count": {"type": "integer"},
                "next": address,
                "previous": address,
                "results": schema,
            },
        }

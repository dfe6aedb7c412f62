"""How long lists of the API are handed out."""

from rest_framework.pagination import PageNumberPagination


class Pages(PageNumberPagination):
    """``?page=2&per_page=100``: fifty rows a page, two hundred at the most."""

    page_size = 50
    page_size_query_param = "per_page"
    max_page_size = 200

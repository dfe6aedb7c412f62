"""The pages and API of billing, by path."""

from django.urls import URLPattern, URLResolver

app_name = "billing"

urlpatterns: list[URLPattern | URLResolver] = []

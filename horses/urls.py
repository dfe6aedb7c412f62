"""The pages and API of horses, by path."""

from django.urls import URLPattern, URLResolver

app_name = "horses"

urlpatterns: list[URLPattern | URLResolver] = []

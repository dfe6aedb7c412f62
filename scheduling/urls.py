"""The pages and API of scheduling, by path."""

from django.urls import URLPattern, URLResolver

app_name = "scheduling"

urlpatterns: list[URLPattern | URLResolver] = []

"""The pages and API of practice, by path. (``urls`` is the root that includes it.)"""

from django.urls import URLPattern, URLResolver

app_name = "practice"

urlpatterns: list[URLPattern | URLResolver] = []

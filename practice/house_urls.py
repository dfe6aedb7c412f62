"""The pages and API of practice, by path. (``urls`` is the root that includes it.)"""

from django.urls import URLPattern, URLResolver, path

from practice.api import entry
from practice.views import home, sign_in

app_name = "practice"

sign_in_urls: list[URLPattern | URLResolver] = [
    path("sign-in/", sign_in.sign_in, name="sign_in"),
    path("sign-in/sent/", sign_in.link_sent, name="link_sent"),
    path("sign-in/link/<str:token>/", sign_in.sign_in_link, name="sign_in_link"),
    path("sign-out/", sign_in.sign_out, name="sign_out"),
]

api_urls: list[URLPattern | URLResolver] = [
    path("api/", entry.description, name="api"),
    path("api/schema/", entry.SchemaDoor.as_view(), name="api_schema"),
    path("api/v1/token/", entry.TokenDoor.as_view(), name="api_token"),
]

urlpatterns: list[URLPattern | URLResolver] = [
    path("", home.home, name="home"),
    *api_urls,
    *sign_in_urls,
]

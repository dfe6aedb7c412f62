"""The pages and API of practice, by path. (``urls`` is the root that includes it.)"""

from typing import Any

from django.urls import URLPattern, URLResolver, include, path, re_path

from practice.api import entry, people, reckonings
from practice.views import account, barns, clients, home, outbox, sign_in, start, users
from practice.views import settings as practice_settings

Urls = list[URLPattern | URLResolver]

app_name = "practice"

sign_in_urls: Urls = [
    path("", sign_in.sign_in, name="sign_in"),
    path("sent/", sign_in.link_sent, name="link_sent"),
    path("link/<str:token>/", sign_in.sign_in_link, name="sign_in_link"),
]
start_urls: Urls = [
    path("", start.start, name="start"),
    path("own/", start.start_own, name="start_own"),
    path("next/", start.started, name="started"),
]
settings_urls: Urls = [
    path("", practice_settings.settings_page, name="settings"),
    path(
        "<slug:section>/", practice_settings.settings_section, name="settings_section"
    ),
]
user_urls: Urls = [
    path("", users.users, name="users"),
    path("add/", users.user_add, name="user_add"),
    path("<int:pk>/", users.user_edit, name="user_edit"),
    path("<int:pk>/active/", users.user_active, name="user_active"),
    path("<int:pk>/invite/", users.user_invite, name="user_invite"),
]
client_urls: Urls = [
    path("", clients.clients, name="clients"),
    path("add/", clients.client_add, name="client_add"),
    path("<int:pk>/", clients.client, name="client"),
    path("<int:pk>/edit/", clients.client_edit, name="client_edit"),
    path("<int:pk>/aside/", clients.client_aside, name="client_aside"),
    path("<int:pk>/invite/", clients.client_invite, name="client_invite"),
]
barn_urls: Urls = [
    path("", barns.barns, name="barns"),
    path("add/", barns.barn_add, name="barn_add"),
    path("<int:pk>/", barns.barn, name="barn"),
    path("<int:pk>/edit/", barns.barn_edit, name="barn_edit"),
    path("<int:pk>/aside/", barns.barn_aside, name="barn_aside"),
]

MANY: dict[str, Any] = {"get": "list", "post": "create"}
ONE: dict[str, Any] = {"get": "retrieve", "patch": "partial_update"}

api_urls: Urls = [
    path("", entry.description, name="api"),
    path("schema/", entry.SchemaDoor.as_view(), name="api_schema"),
    path("v1/token/", entry.TokenDoor.as_view(), name="api_token"),
    re_path(
        r"^v1/reckon/(?P<what>[a-z_]+)/?$",
        reckonings.ReckonDoor.as_view(),
        name="api_reckon",
    ),
    path("v1/clients/", people.Clients.as_view(MANY), name="api_clients"),
    path("v1/clients/<int:pk>/", people.Clients.as_view(ONE), name="api_client"),
    path("v1/barns/", people.Barns.as_view(MANY), name="api_barns"),
    path("v1/barns/<int:pk>/", people.Barns.as_view(ONE), name="api_barn"),
    path("v1/areas/", people.Areas.as_view(MANY), name="api_areas"),
]

urlpatterns: Urls = [
    path("", home.home, name="home"),
    path("api/", include(api_urls)),
    path("sign-in/", include(sign_in_urls)),
    path("sign-out/", sign_in.sign_out, name="sign_out"),
    path("account/", account.account, name="account"),
    path("account/tokens/<int:pk>/back/", account.token_back, name="token_back"),
    path("start/", include(start_urls)),
    path("settings/", include(settings_urls)),
    path("users/", include(user_urls)),
    path("clients/", include(client_urls)),
    path("barns/", include(barn_urls)),
    path("areas/", barns.areas, name="areas"),
    path("areas/<int:pk>/", barns.area, name="area"),
    path("messages/", outbox.messages, name="messages"),
    path("messages/<int:pk>/", outbox.message_decide, name="message_decide"),
]

"""The pages and API of horses, by path."""

from django.urls import URLPattern, URLResolver, include, path

from horses import portal
from horses.views import horses, owners, works

app_name = "horses"

horse_urls: list[URLPattern | URLResolver] = [
    path("", horses.horses, name="horses"),
    path("add/", horses.horse_add, name="horse_add"),
    path("works/", works.works, name="works"),
    path("works/add/", works.work_add, name="work_add"),
    path("works/<int:pk>/", works.work_edit, name="work_edit"),
    path("of-client/<int:pk>/", horses.client_horses, name="client_horses"),
    path("at-barn/<int:pk>/", horses.barn_horses, name="barn_horses"),
    path("<int:pk>/", horses.horse, name="horse"),
    path("<int:pk>/edit/", horses.horse_edit, name="horse_edit"),
    path("<int:pk>/owners/", owners.horse_owners, name="horse_owners"),
    path("<int:pk>/payer/", owners.horse_payer, name="horse_payer"),
]

portal_urls: list[URLPattern | URLResolver] = [
    path("my/", portal.my_horses, name="my_horses"),
    path("my/horses/<int:pk>/", portal.my_horse, name="my_horse"),
    path("barn-visits/", portal.barn_visits, name="barn_visits"),
]

urlpatterns: list[URLPattern | URLResolver] = [
    path("horses/", include(horse_urls)),
    *portal_urls,
]

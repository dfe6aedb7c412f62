"""The pages and API of horses, by path."""

from typing import Any

from django.urls import URLPattern, URLResolver, include, path

from horses import portal
from horses.api import horses as api
from horses.api import visits as visit_api
from horses.views import (
    considerations,
    effects,
    horses,
    intervals,
    lateness,
    limbs,
    marks,
    owners,
    photos,
    plans,
    records,
    sheets,
    trends,
    visits,
    works,
)

app_name = "horses"

horse_urls: list[URLPattern | URLResolver] = [
    path("", horses.horses, name="horses"),
    path("add/", horses.horse_add, name="horse_add"),
    path("lateness/", lateness.season, name="lateness"),
    path("works/", works.works, name="works"),
    path("works/add/", works.work_add, name="work_add"),
    path("works/<int:pk>/", works.work_edit, name="work_edit"),
    path("of-client/<int:pk>/", horses.client_horses, name="client_horses"),
    path("at-barn/<int:pk>/", horses.barn_horses, name="barn_horses"),
    path("<int:pk>/", horses.horse, name="horse"),
    path("<int:pk>/edit/", horses.horse_edit, name="horse_edit"),
    path("<int:pk>/owners/", owners.horse_owners, name="horse_owners"),
    path("<int:pk>/payer/", owners.horse_payer, name="horse_payer"),
    path("<int:pk>/interval/", intervals.horse_interval, name="horse_interval"),
    path("intervals/", intervals.intervals, name="intervals"),
    path("intervals/<slug:use>/", intervals.interval_limits, name="interval_limits"),
    path("<int:pk>/limbs/", limbs.limbs, name="limbs"),
    path("<int:pk>/limbs/<str:limb>/", limbs.limb_add, name="limb_add"),
    path("limbs/<uuid:pk>/", limbs.limb_amend, name="limb_amend"),
    path("limbs/<uuid:pk>/end/", limbs.limb_end, name="limb_end"),
    path(
        "<int:pk>/considerations/",
        considerations.horse_considerations,
        name="horse_considerations",
    ),
    path("<int:pk>/trends/", trends.horse_trends, name="trends"),
    path("<int:pk>/plans/", plans.plans, name="plans"),
    path("<int:pk>/plans/<str:foot>/", plans.plan_new, name="plan_new"),
    path("<int:pk>/plans/<str:foot>/look/", plans.plan_look, name="plan_look"),
]

visit_urls: list[URLPattern | URLResolver] = [
    path("", visits.visits, name="visits"),
    path("start/<int:barn>/", visits.visit_start, name="visit_start"),
    path("<uuid:pk>/", visits.visit, name="visit"),
    path("<uuid:pk>/note/", visits.visit_note, name="visit_note"),
    path("<uuid:pk>/horses/", visits.visit_add_horse, name="visit_add_horse"),
    path(
        "<uuid:pk>/horses/<int:horse>/off/",
        visits.visit_take_off,
        name="visit_take_off",
    ),
]

record_urls: list[URLPattern | URLResolver] = [
    path("<uuid:pk>/", records.record, name="record"),
    path("<uuid:pk>/look/<str:foot>/", records.record_look, name="record_look"),
    path("<uuid:pk>/amend/", records.record_amend, name="record_amend"),
    path("<uuid:pk>/changes/", effects.record_changes, name="record_changes"),
    path("<uuid:pk>/effects/", effects.record_effects, name="record_effects"),
    path("<uuid:pk>/report.pdf", records.record_report, name="record_report"),
    path(
        "<uuid:pk>/considerations/",
        considerations.record_considerations,
        name="record_considerations",
    ),
    path(
        "<uuid:pk>/considerations/<slug:code>/",
        considerations.consider,
        name="consider",
    ),
]

plan_urls: list[URLPattern | URLResolver] = [
    path("<uuid:pk>/", plans.plan, name="plan"),
    path("<uuid:pk>/edit/", plans.plan_edit, name="plan_edit"),
    path("<uuid:pk>/accept/", plans.plan_accept, name="plan_accept"),
    path("<uuid:pk>/drop/", plans.plan_drop, name="plan_drop"),
]

photo_urls: list[URLPattern | URLResolver] = [
    path("<uuid:pk>/", photos.photo, name="photo"),
    path("<uuid:pk>/small/", photos.photo_small, name="photo_small"),
    path("<uuid:pk>/remove/", photos.photo_remove, name="photo_remove"),
    path("<uuid:pk>/marks/", marks.photo_marks, name="photo_marks"),
    path("<uuid:pk>/marks/figures/", marks.photo_figures, name="photo_figures"),
    path("<uuid:pk>/shows/", marks.photo_shows, name="photo_shows"),
]

sheet_urls: list[URLPattern | URLResolver] = [
    path("", sheets.sheets, name="import"),
    path("<uuid:pk>/", sheets.sheet, name="import_sheet"),
    path("<uuid:pk>/columns/", sheets.sheet_columns, name="import_columns"),
    path("<uuid:pk>/drop/", sheets.sheet_drop, name="import_drop"),
]

portal_urls: list[URLPattern | URLResolver] = [
    path("my/", portal.my_horses, name="my_horses"),
    path("my/horses/<int:pk>/", portal.my_horse, name="my_horse"),
    path("my/horses/<int:pk>/trends/", portal.my_trends, name="my_trends"),
    path("barn-visits/", portal.barn_visits, name="barn_visits"),
]

MANY: Any = {"get": "list", "post": "create"}
ONE: Any = {"get": "retrieve", "patch": "partial_update"}

api_urls: list[URLPattern | URLResolver] = [
    path("horses/", api.Horses.as_view(MANY), name="api_horses"),
    path("horses/<int:pk>/", api.Horses.as_view(ONE), name="api_horse"),
    path(
        "horses/<int:pk>/ownerships/",
        api.Ownerships.as_view(MANY),
        name="api_ownerships",
    ),
    path("horses/<int:pk>/payers/", api.Payers.as_view(MANY), name="api_payers"),
    path("works/", api.Works.as_view(MANY), name="api_works"),
    path("works/<int:pk>/", api.Works.as_view(ONE), name="api_work"),
    path("visits/", visit_api.Visits.as_view(MANY), name="api_visits"),
    path(
        "visits/<uuid:pk>/",
        visit_api.Visits.as_view({"get": "retrieve"}),
        name="api_visit",
    ),
    path(
        "records/<uuid:pk>/",
        visit_api.Records.as_view({"get": "retrieve", "put": "update"}),
        name="api_record",
    ),
]

urlpatterns: list[URLPattern | URLResolver] = [
    path("horses/", include(horse_urls)),
    path("visits/", include(visit_urls)),
    path("records/", include(record_urls)),
    path("plans/", include(plan_urls)),
    path("photos/", include(photo_urls)),
    path("considerations/", considerations.considerations, name="considerations"),
    path("import/", include(sheet_urls)),
    *portal_urls,
    path("api/v1/", include(api_urls)),
]

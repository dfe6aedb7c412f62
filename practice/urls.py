"""Own pages, then one include per app, by string."""

from django.urls import include, path

handler404 = "practice.views.faults.not_found"
handler500 = "practice.views.faults.server_error"

urlpatterns = [
    path("", include("practice.house_urls")),
    path("", include("horses.urls")),
    path("", include("scheduling.urls")),
    path("", include("billing.urls")),
]

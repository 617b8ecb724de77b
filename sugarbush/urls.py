"""Where each page lives. Each app keeps its own list; names are flat, one for each page."""

from django.urls import include, path

urlpatterns = [
    path("", include("sugarbush.desk.urls")),
    path("", include("sugarbush.desk.history.urls")),
    path("", include("sugarbush.desk.privacy.urls")),
    path("", include("sugarbush.volunteers.urls")),
    path("", include("sugarbush.seasons.urls")),
    path("", include("sugarbush.weather.urls")),
    path("", include("sugarbush.trees.urls")),
    path("", include("sugarbush.owners.urls")),
    path("", include("sugarbush.notices.urls")),
    path("", include("sugarbush.kit.urls")),
    path("", include("sugarbush.taps.urls")),
    path("", include("sugarbush.gathering.urls")),
    path("", include("sugarbush.boils.urls")),
    path("", include("sugarbush.lots.urls")),
    path("", include("sugarbush.shares.urls")),
    path("", include("sugarbush.review.urls")),
    path("", include("sugarbush.papers.urls")),
    path("", include("sugarbush.phone.urls")),
    path("", include("sugarbush.archive.urls")),
    path("", include("sugarbush.api.urls")),
]

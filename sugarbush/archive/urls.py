"""Where the whole programme is taken away."""

from __future__ import annotations

from django.urls import URLPattern, path

from sugarbush.archive import views

urlpatterns: list[URLPattern] = [
    path("programme/archive/", views.archive, name="archive"),
    path("programme/archive/<uuid:pk>/", views.archive_file, name="archive-file"),
]

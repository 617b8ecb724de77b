from django.urls import path

from sugarbush.seasons import views_programme, views_seasons

urlpatterns = [
    path("programme/", views_programme.programme, name="programme"),
    path("programme/new/", views_programme.programme_new, name="programme-new"),
    path("seasons/", views_seasons.seasons, name="seasons"),
    path("seasons/new/", views_seasons.season_new, name="season-new"),
    path("seasons/<int:year>/", views_seasons.season, name="season"),
    path("seasons/<int:year>/rules/", views_seasons.season_rules, name="season-rules"),
    path("seasons/<int:year>/step/", views_seasons.season_step, name="season-step"),
]

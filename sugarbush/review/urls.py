from django.urls import path

from sugarbush.review import views, views_late, views_ledger

urlpatterns = [
    path("season/", views.season_review, name="season-review"),
    path("season/close/", views.season_close, name="season-close"),
    path("season/csv/<slug:what>/", views.season_csv, name="season-csv"),
    path("season/ledger/", views_ledger.season_ledger, name="season-ledger"),
    path("season/late/", views_late.late_entries, name="season-late"),
    path("season/late/<uuid:pk>/", views_late.late_entry, name="season-late-entry"),
]

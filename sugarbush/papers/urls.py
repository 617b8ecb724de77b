"""Where paper is made, and found again."""

from __future__ import annotations

from django.urls import URLPattern, path

from sugarbush.papers import views, views_find, views_jobs, views_settings, views_sheets

urlpatterns: list[URLPattern] = [
    path("paper/", views_find.paper, name="paper"),
    path("paper/settings/", views_settings.paper_settings, name="paper-settings"),
    path("paper/settings/sheets/new/", views_settings.label_sheet_new, name="label-sheet-new"),
    path("paper/settings/sheets/<int:pk>/", views_settings.label_sheet, name="label-sheet"),
    path("paper/find/", views_find.paper_find, name="paper-find"),
    path("slip/<str:number>/", views_find.paper_slip, name="paper-slip"),
    path("paper/sheet/", views_sheets.paper_sheet_scan, name="paper-sheet-scan"),
    path("paper/sheet/<str:number>/", views_sheets.paper_sheet, name="paper-sheet"),
    path("paper/waiting/<uuid:pk>/", views_jobs.paper_job, name="paper-job"),
    path("paper/waiting/<uuid:pk>/file/", views_jobs.paper_job_file, name="paper-job-file"),
    path("paper/print/<str:kind>/", views.paper_print, name="paper-print"),
]

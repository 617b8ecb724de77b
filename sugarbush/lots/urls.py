from django.urls import path

from sugarbush.lots import views, views_label, views_recall, views_trace

urlpatterns = [
    path("lots/", views.lots, name="lots"),
    path("lots/new/", views.lot_new, name="lot-new"),
    path("lots/<uuid:pk>/", views.lot, name="lot"),
    path("lots/<uuid:pk>/release/", views.lot_release, name="lot-release"),
    path("lots/<uuid:pk>/label/", views_label.lot_label, name="lot-label"),
    path("lots/<uuid:pk>/scan/", views_label.lot_scan, name="lot-scan"),
    path("lots/<uuid:pk>/<slug:what>/", views.lot_act, name="lot-act"),
    path("jars/<uuid:pk>/back/", views.jars_back, name="jars-back"),
    path("trace/", views_trace.trace_page, name="trace"),
    path("trace/csv/", views_trace.trace_csv, name="trace-csv"),
    path("recalls/", views_recall.recalls, name="recalls"),
    path("recalls/new/", views_recall.recall_new, name="recall-new"),
    path("recalls/<uuid:pk>/", views_recall.recall, name="recall"),
    path("recalls/<uuid:pk>/call/", views_recall.recall_call, name="recall-call"),
    path("recalls/<uuid:pk>/close/", views_recall.recall_close, name="recall-close"),
]

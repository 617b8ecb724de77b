from django.urls import path

from sugarbush.desk.history import views

urlpatterns = [
    path("audit/", views.history, name="history"),
    path("audit/csv/", views.history_csv, name="history-csv"),
]

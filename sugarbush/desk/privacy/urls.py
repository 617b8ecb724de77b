from django.urls import path

from sugarbush.desk.privacy import views

urlpatterns = [
    path("privacy/", views.privacy, name="privacy"),
]

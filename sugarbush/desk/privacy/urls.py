from django.urls import path

from sugarbush.desk.privacy import views

urlpatterns = [
    path("privacy/", views.privacy, name="privacy"),
    path("me/data/", views.my_data, name="my-data"),
    path("people/<int:person_id>/data/", views.person_data, name="person-data"),
]

from django.urls import path

from sugarbush.desk.public import views

urlpatterns = [
    path("public/", views.public, name="public"),
    path("public/<str:part>.<str:kind>", views.public_file, name="public-file"),
    path("programme/public/", views.keep, name="public-keep"),
]

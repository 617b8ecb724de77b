from django.urls import path

from sugarbush.weather import views

urlpatterns = [
    path("weather/", views.weather, name="weather"),
]

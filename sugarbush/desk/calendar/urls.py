from django.urls import path

from sugarbush.desk.calendar import views

urlpatterns = [
    path("me/calendar/", views.my_calendar, name="my-calendar"),
    path("calendar/<str:token>/sugarbush.ics", views.calendar_feed, name="calendar-feed"),
]

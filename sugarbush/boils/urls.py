from django.urls import path

from sugarbush.boils import views_days, views_depot

urlpatterns = [
    path("deliveries/", views_depot.deliveries, name="deliveries"),
    path("deliveries/new/", views_depot.delivery_new, name="delivery-new"),
    path("deliveries/<uuid:pk>/", views_depot.delivery, name="delivery"),
    path("tanks/", views_depot.tanks, name="tanks"),
    path("tanks/new/", views_depot.tank_new, name="tank-new"),
    path("tanks/<uuid:pk>/", views_depot.tank, name="tank"),
    path("tanks/<uuid:pk>/out-of-use/", views_depot.tank_out_of_use, name="tank-out-of-use"),
    path("boil-days/", views_days.boil_days, name="boil-days"),
    path("boil-days/new/", views_days.boil_day_new, name="boil-day-new"),
    path("boil-days/<int:pk>/", views_days.boil_day, name="boil-day"),
    path("boil-days/<int:pk>/edit/", views_days.boil_day_edit, name="boil-day-edit"),
    path("boil-days/<int:pk>/step/", views_days.boil_step, name="boil-step"),
    path("batches/<uuid:pk>/", views_days.batch, name="batch"),
]

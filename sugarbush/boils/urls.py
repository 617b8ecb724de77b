from django.urls import path

from sugarbush.boils import views_days, views_depot, views_hands, views_tanks

urlpatterns = [
    path("deliveries/", views_depot.deliveries, name="deliveries"),
    path("deliveries/new/", views_depot.delivery_new, name="delivery-new"),
    path("deliveries/<uuid:pk>/", views_depot.delivery, name="delivery"),
    path("hand-over/", views_hands.hand_over_page, name="hand-over"),
    path("approvals/", views_hands.approvals_page, name="approvals"),
    path("tanks/", views_tanks.tanks, name="tanks"),
    path("tanks/new/", views_tanks.tank_new, name="tank-new"),
    path("tanks/labels/", views_tanks.tank_labels, name="tank-labels"),
    path("tanks/<uuid:pk>/", views_tanks.tank, name="tank"),
    path("tanks/<uuid:pk>/label/", views_tanks.tank_label, name="tank-label"),
    path("tanks/<uuid:pk>/temperatures/", views_tanks.tank_temperatures, name="tank-temperatures"),
    path("tanks/<uuid:pk>/out-of-use/", views_tanks.tank_out_of_use, name="tank-out-of-use"),
    path("boil-days/", views_days.boil_days, name="boil-days"),
    path("boil-days/new/", views_days.boil_day_new, name="boil-day-new"),
    path("boil-days/<int:pk>/", views_days.boil_day, name="boil-day"),
    path("boil-days/<int:pk>/edit/", views_days.boil_day_edit, name="boil-day-edit"),
    path("boil-days/<int:pk>/step/", views_days.boil_step, name="boil-step"),
    path("batches/<uuid:pk>/", views_days.batch, name="batch"),
]

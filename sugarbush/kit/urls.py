from django.urls import path

from sugarbush.kit import views, views_labels

urlpatterns = [
    path("containers/", views.containers, name="containers"),
    path("containers/new/", views.containers_new, name="container-new"),
    path("containers/labels/", views_labels.container_labels, name="container-labels"),
    path("containers/<int:container_id>/label/", views_labels.container_label, name="container-label"),
    path("containers/<int:container_id>/", views.container, name="container"),
    path("depots/", views.depots, name="depots"),
    path("depots/new/", views.depot_new, name="depot-new"),
    path("depots/<int:depot_id>/", views.depot, name="depot"),
]

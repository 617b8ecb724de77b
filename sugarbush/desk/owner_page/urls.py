"""Where an owner's own page lives."""

from __future__ import annotations

from django.urls import URLPattern, path

from sugarbush.desk.owner_page import door, views

urlpatterns: list[URLPattern] = [
    path("o/<str:token>/", door.owner_link, name="owner-link"),
    path("my-tree/", views.my_tree, name="my-tree"),
    path("my-tree/leave/", door.my_tree_leave, name="my-tree-leave"),
    path("my-tree/permission/<str:number>/", views.my_permission, name="my-permission"),
    path("my-tree/permission/<str:number>/stop/", views.my_stop, name="my-stop"),
    path("my-tree/permission/<str:number>/jar/", views.my_jar, name="my-jar"),
    path("my-tree/trees/<tag:code>/treated/", views.my_treated, name="my-treated"),
]

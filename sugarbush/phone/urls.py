"""The round on the phone. The worker stands at the root, so that it may answer for every page of ours."""

from django.urls import path

from sugarbush.phone import tree_photos, views, views_shell

urlpatterns = [
    path("service-worker.js", views_shell.worker, name="service-worker"),
    path("round/app.webmanifest", views_shell.manifest, name="manifest"),
    path("round/look.css", views_shell.look, name="round-look"),
    path("round/shell/", views_shell.shell, name="round-shell"),
    path("round/no-signal/", views_shell.no_signal, name="round-no-signal"),
    path("round/", views.whole_round, name="round"),
    path("round/pack/", views.pack, name="round-pack"),
    path("round/outbox/", views.outbox, name="round-outbox"),
    path("round/trees/<tag:code>/photo/", tree_photos.tree_photo, name="round-tree-photo"),
    path("round/photos/", views.photos, name="round-photos"),
    path("round/photos/<uuid:pk>/", views.photo, name="entry-photo"),
]

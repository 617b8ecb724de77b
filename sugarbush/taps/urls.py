"""Where trees are given out, and where taps live. A tree's own page is desk's."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from sugarbush.taps.views import assign, lists, placing, tap

urlpatterns: list[URLPattern | URLResolver] = [
    path("trees/assign/", assign.assign, name="assign"),
    path("trees/<tag:code>/give-back/", assign.assign_end, name="assign-end"),
    path("trees/<tag:code>/tap/", placing.tap_new, name="tap-new"),
    path("taps/in/", lists.taps_in, name="taps-in"),
    path("taps/in/pull/", lists.taps_pull, name="taps-pull"),
    path("taps/settle/", lists.taps_settle, name="taps-settle"),
    path("taps/<uuid:tap_id>/", tap.tap, name="tap"),
    path("taps/<uuid:tap_id>/pull/", tap.tap_pull, name="tap-pull"),
    path("taps/<uuid:tap_id>/mark/", tap.tap_mark, name="tap-mark"),
    path("taps/<uuid:tap_id>/settle/", tap.tap_settle, name="tap-settle"),
]

"""Where the pages about messages live."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from sugarbush.notices import views, views_after, views_whom

urlpatterns: list[URLPattern | URLResolver] = [
    path("messages/", views.notice_list, name="notices"),
    path("messages/new/", views.notice_new, name="notice-new"),
    path("messages/<int:notice_id>/", views.notice, name="notice"),
    path("messages/<int:notice_id>/edit/", views.notice_edit, name="notice-edit"),
    path("messages/<int:notice_id>/send/", views.notice_send, name="notice-send"),
    path("messages/<int:notice_id>/drop/", views.notice_drop, name="notice-drop"),
    path("messages/<int:notice_id>/letters/", views_after.notice_letters, name="notice-letters"),
    path("messages/<int:notice_id>/handed/", views_after.notice_handed, name="notice-handed"),
    path("messages/<int:notice_id>/again/", views_after.notice_again, name="notice-again"),
    path("me/messages/", views_whom.my_messages, name="my-messages"),
    path("people/<int:person_id>/messages/", views_whom.person_messages, name="person-messages"),
    path("owners/<int:owner_id>/messages/", views_whom.owner_messages, name="owner-messages"),
    path("no-messages/<str:token>/", views_whom.no_messages, name="no-messages"),
]

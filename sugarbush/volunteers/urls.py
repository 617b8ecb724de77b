from django.urls import path

from sugarbush.volunteers import (
    views_cards,
    views_groups,
    views_join,
    views_people,
    views_person_acts,
    views_signing,
)

urlpatterns = [
    path("sign-in/", views_signing.sign_in, name="sign-in"),
    path("sign-in/demo/", views_signing.sign_in_demo, name="sign-in-demo"),
    path("sign-in/<str:token>/", views_signing.sign_in_link, name="sign-in-link"),
    path("sign-out/", views_signing.sign_out, name="sign-out"),
    path("join/", views_join.join, name="join"),
    path("join/you/", views_join.join_you, name="join-you"),
    path("join/<str:code>/", views_join.join_card, name="join-card"),
    path("me/", views_people.me, name="me"),
    path("people/", views_people.people_list, name="people"),
    path("people/new/", views_people.person_new, name="person-new"),
    path("people/<int:person_id>/", views_people.person, name="person"),
    path("people/<int:person_id>/role/", views_person_acts.give_role, name="person-role"),
    path("people/<int:person_id>/role/<int:membership_id>/end/", views_person_acts.end_role, name="person-role-end"),
    path("people/<int:person_id>/credential/", views_person_acts.add_credential, name="person-credential"),
    path(
        "people/<int:person_id>/credential/<int:credential_id>/end/",
        views_person_acts.end_credential,
        name="person-credential-end",
    ),
    path("people/<int:person_id>/link/", views_person_acts.make_link, name="person-link"),
    path("people/<int:person_id>/signed-out/", views_person_acts.end_sessions, name="person-signed-out"),
    path("people/<int:person_id>/leave/", views_person_acts.stop, name="person-leave"),
    path("people/<int:person_id>/back/", views_person_acts.take_back, name="person-back"),
    path("groups/", views_groups.groups, name="groups"),
    path("groups/new/", views_groups.group_new, name="group-new"),
    path("groups/<int:group_id>/", views_groups.group, name="group"),
    path("groups/<int:group_id>/cards/", views_cards.group_cards, name="group-cards"),
    path("cards/<uuid:sheet_id>/", views_cards.card_sheet, name="card-sheet"),
    path("cards/<uuid:sheet_id>/print/", views_cards.card_sheet_print, name="card-sheet-print"),
    path("cards/<uuid:sheet_id>/withdraw/", views_cards.card_sheet_withdraw, name="card-sheet-withdraw"),
    path("who-may-do-what/", views_groups.access_table, name="access-table"),
]

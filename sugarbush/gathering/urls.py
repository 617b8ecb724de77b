from django.urls import path

from sugarbush.gathering import views_phone, views_review

urlpatterns = [
    path("log/", views_phone.whole_round, name="log"),
    path("log/entry/<uuid:pk>/", views_phone.one_entry, name="log-entry"),
    path("log/<tag:code>/", views_phone.one_tree, name="log-tree"),
    path("log/<tag:code>/sap/", views_phone.sap, name="log-sap"),
    path("log/<tag:code>/quick/", views_phone.quick, name="log-quick"),
    path("look-at/", views_review.review_list, name="review-list"),
    path("look-at/<uuid:pk>/", views_review.review_one, name="review-one"),
]

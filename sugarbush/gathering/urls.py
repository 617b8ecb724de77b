from django.urls import path

from sugarbush.gathering import views_phone, views_review, views_rounds, views_runs

urlpatterns = [
    path("log/", views_phone.whole_round, name="log"),
    path("log/entry/<uuid:pk>/", views_phone.one_entry, name="log-entry"),
    path("log/<tag:code>/", views_phone.one_tree, name="log-tree"),
    path("log/<tag:code>/sap/", views_phone.sap, name="log-sap"),
    path("log/<tag:code>/quick/", views_phone.quick, name="log-quick"),
    path("look-at/", views_review.review_list, name="review-list"),
    path("look-at/<uuid:pk>/", views_review.review_one, name="review-one"),
    path("rounds/", views_runs.today_board, name="board"),
    path("rounds/all/", views_rounds.rounds, name="rounds"),
    path("rounds/rota/", views_runs.rota, name="rota"),
    path("rounds/new/", views_rounds.round_new, name="round-new"),
    path("rounds/split/", views_rounds.round_split, name="round-split"),
    path("rounds/<int:pk>/", views_rounds.round_plan, name="round-plan"),
    path("rounds/<int:pk>/change/", views_rounds.round_change, name="round-change"),
    path("rounds/<int:pk>/stops/", views_rounds.round_stops, name="round-stops"),
    path("rounds/<int:pk>/give/", views_rounds.round_give, name="round-give"),
    path("rounds/<int:pk>/today/", views_runs.round_today, name="round-today"),
    path("rounds/run/<int:pk>/", views_runs.one_run, name="run"),
    path("rounds/run/<int:pk>/call/", views_runs.run_call, name="run-call"),
    path("rounds/run/<int:pk>/finish/", views_runs.run_finish, name="run-finish"),
    path("rounds/run/<int:pk>/step/", views_runs.run_step, name="run-step"),
    path("rounds/run/<int:pk>/say/", views_runs.run_say, name="run-say"),
    path("my-rounds/", views_runs.my_rounds, name="my-rounds"),
]

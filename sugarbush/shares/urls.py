from django.urls import path

from sugarbush.shares import views_handout, views_rules, views_runs, views_shares

urlpatterns = [
    path("shares/", views_rules.shares, name="shares"),
    path("shares/rules/new/", views_rules.share_rule_new, name="share-rule-new"),
    path("shares/rules/<int:pk>/", views_rules.share_rule, name="share-rule"),
    path("shares/rules/<int:pk>/publish/", views_rules.share_rule_publish, name="share-rule-publish"),
    path("shares/rules/<int:pk>/try/", views_rules.share_preview, name="share-preview"),
    path("shares/runs/new/", views_rules.share_run_new, name="share-run-new"),
    path("shares/runs/<uuid:pk>/", views_runs.share_run, name="share-run"),
    path("shares/runs/<uuid:pk>/step/", views_runs.share_run_step, name="share-run-step"),
    path("shares/runs/<uuid:pk>/csv/", views_runs.share_csv, name="share-csv"),
    path("shares/runs/<uuid:pk>/statements/", views_runs.share_statements, name="share-statements"),
    path("shares/questions/<uuid:pk>/", views_runs.share_answer, name="share-answer"),
    path("shares/<int:pk>/", views_shares.share, name="share"),
    path("shares/<int:pk>/litres/", views_shares.share_litres, name="share-litres"),
    path("shares/<int:pk>/ask/", views_shares.share_ask, name="share-ask"),
    path("my-share/", views_shares.my_share, name="my-share"),
    path("hand-out/", views_handout.hand_out, name="hand-out"),
    path("hand-out/<int:pk>/", views_handout.hand_out_act, name="hand-out-act"),
    path("hand-out/print/", views_handout.hand_out_print, name="hand-out-print"),
    path("hand-out/give-on/", views_handout.give_on, name="give-on"),
]

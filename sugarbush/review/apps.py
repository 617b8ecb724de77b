from django.apps import AppConfig


class ReviewConfig(AppConfig):
    name = "sugarbush.review"
    label = "review"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.review.closing import keep_totals
        from sugarbush.seasons import closing

        closing.register_totals(keep_totals)

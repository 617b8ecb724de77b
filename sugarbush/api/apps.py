from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "sugarbush.api"
    label = "api"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.api.tokens import MEANS, close_all, forget, own_rows
        from sugarbush.desk.privacy import own_data
        from sugarbush.volunteers import forgetting, outgrowing

        forgetting.register_copy(forget)
        outgrowing.register(close_all)
        own_data.register("tokens", means=MEANS, rows=own_rows)

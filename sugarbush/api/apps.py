from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "sugarbush.api"
    label = "api"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.api.tokens import close_all, forget
        from sugarbush.volunteers import forgetting, outgrowing

        forgetting.register_copy(forget)
        outgrowing.register(close_all)

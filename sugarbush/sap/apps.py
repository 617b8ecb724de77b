from django.apps import AppConfig


class SapConfig(AppConfig):
    name = "sugarbush.sap"
    label = "sap"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.sap.leaving import sap_in_hands
        from sugarbush.volunteers import forgetting

        forgetting.register_against(sap_in_hands)

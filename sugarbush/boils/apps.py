from django.apps import AppConfig


class BoilsConfig(AppConfig):
    name = "sugarbush.boils"
    label = "boils"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.boils import access, actions, closing  # noqa: F401  # access fills the table of who may do what
        from sugarbush.gathering import rebalance
        from sugarbush.seasons import closing as season_closing

        rebalance.register(actions.difference_replaced)
        for name in ("deliveries_ahead", "approvals_open", "open_batches", "sap_underway", "ledger_out_of_balance"):
            season_closing.register(name, getattr(closing, name))

from django.apps import AppConfig


class BoilsConfig(AppConfig):
    name = "sugarbush.boils"
    label = "boils"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.boils import access, actions, closing, contents, leaving  # noqa: F401  # access fills the table
        from sugarbush.boils.noticed import AUDIENCES
        from sugarbush.gathering import rebalance
        from sugarbush.kit import contents as kit_contents
        from sugarbush.notices import audiences
        from sugarbush.seasons import closing as season_closing
        from sugarbush.volunteers import forgetting

        forgetting.register_against(leaving.approvals_waiting)
        kit_contents.register("boils", contents.what_is_in_it)
        rebalance.register(actions.difference_replaced)
        for name in ("deliveries_ahead", "approvals_open", "open_batches", "sap_underway", "ledger_out_of_balance"):
            season_closing.register(name, getattr(closing, name))
        for audience in AUDIENCES:
            audiences.register(audience)

from django.apps import AppConfig


class DeskConfig(AppConfig):
    name = "sugarbush.desk"
    label = "desk"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.desk import seasonal
        from sugarbush.desk.nav import nav
        from sugarbush.parts import context
        from sugarbush.seasons import changed

        context.register("nav", nav)
        changed.register_kinds(seasonal.kinds)
        changed.register(seasonal.look_again)
        from sugarbush.desk.map.holds import given_elsewhere
        from sugarbush.trees.group_actions import register_hold

        register_hold(given_elsewhere)

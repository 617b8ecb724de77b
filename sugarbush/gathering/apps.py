from django.apps import AppConfig


class GatheringConfig(AppConfig):
    name = "sugarbush.gathering"
    label = "gathering"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.gathering import access  # noqa: F401  # fills the table of who may do what
        from sugarbush.gathering.closing import entries_to_review, trees_to_look_at
        from sugarbush.seasons import closing
        from sugarbush.taps import state

        closing.register("review", entries_to_review)
        state.register_look(trees_to_look_at)

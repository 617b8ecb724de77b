from django.apps import AppConfig


class GatheringConfig(AppConfig):
    name = "sugarbush.gathering"
    label = "gathering"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.gathering import access  # noqa: F401  # fills the table of who may do what
        from sugarbush.gathering.closing import entries_to_review, trees_to_look_at
        from sugarbush.gathering.noticed import AUDIENCES
        from sugarbush.gathering.round_acts import leave_rounds, move_stops
        from sugarbush.notices import audiences
        from sugarbush.seasons import closing
        from sugarbush.taps import assigning, state
        from sugarbush.trees import merging

        closing.register("review", entries_to_review)
        state.register_look(trees_to_look_at)
        assigning.register_ended(leave_rounds)
        merging.register("gathering.roundstop", move_stops)
        for audience in AUDIENCES:
            audiences.register(audience)

from django.apps import AppConfig


class TapsConfig(AppConfig):
    name = "sugarbush.taps"
    label = "taps"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.kit import contents
        from sugarbush.seasons import closing
        from sugarbush.taps import access, state  # noqa: F401  # access fills the table of who may do what
        from sugarbush.taps.closing import taps_still_in
        from sugarbush.taps.hanging import where_it_hangs
        from sugarbush.taps.merging import move_assignments, move_taps, two_groups_work_it
        from sugarbush.trees import merging, shown

        merging.register("taps.tap", move_taps)
        merging.register("taps.assignment", move_assignments)
        merging.register_check("taps", two_groups_work_it)
        shown.register(state.states_of)
        closing.register("taps", taps_still_in)
        contents.register("taps", where_it_hangs)

"""The trade's arithmetic in plain Python: no Django, no data store, no clock.

Numbers are kept in one unit, and the unit is in the name: ``volume_ml``, ``height_mm``, ``diameter_um``, ``mass_g``,
``sugar_brix``, ``temperature_c``. Every refusal is one of the errors in ``sugarbush.core.errors``.

Sources carry a standing in their docstrings: [R] read in the publisher's own text, [R2] read second-hand,
[C] computed and cross-checked for this project, [M] common practice or from memory, no source opened.
"""

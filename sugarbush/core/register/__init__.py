"""The pages of the handbook, by what they are about; sugarbush.core.handbook puts them together.

>>> from sugarbush.core.register.entry import Input
>>> Input(name="girth_um", said="girth", unit="µm", low=1, high=2).limits
'1 to 2 µm'
"""

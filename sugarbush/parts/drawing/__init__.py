"""Geometry of pictures as plain functions: numbers in, places on a sheet out. Templates draw them as SVG.

Sheets are in CSS pixels (`_px`) or in per cent of the picture's width (`_pct`); y grows downward.
"""

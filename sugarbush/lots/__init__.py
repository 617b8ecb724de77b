"""Syrup in jars: packing, holding, releasing, tracing, calling back."""

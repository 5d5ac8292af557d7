"""Plots of a sounding: palette, wind barbs and, with the extra ``plot``, figures as files."""

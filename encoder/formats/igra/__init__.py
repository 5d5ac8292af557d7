"""IGRA version 2: sounding data read in bulk and written back, derived data as a check."""

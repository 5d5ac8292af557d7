"""File formats: how flights, profiles and tables are read from and written to files.

A *format* here is a file format. The code forms of the World Meteorological Organization, in
which reports are sent, are in :mod:`encoder.codes`.
"""

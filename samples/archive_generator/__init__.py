"""Makes archives of the invented Norreland stations: decades of soundings, as sources and as truth.

Everything comes from a seed. The same soundings are written as IGRA station files, as days of coded
traffic, or both; damage is put in on request, and what was there before is kept beside it.
"""

"""Bulletins: the headings, envelopes and files that reports travel in, and the way back out."""

"""BUFR soundings: templates as data, written and read through the coding library and in bulk."""

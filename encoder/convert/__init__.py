"""Bulk conversion of historical records: plan, units of work, accounts, station files."""

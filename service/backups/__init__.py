"""Backups: one SQLite file each, whatever kind of database it was made of."""

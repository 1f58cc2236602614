"""Logs of a machine: CSV files of times and readings, and what they cannot be."""

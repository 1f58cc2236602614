"""Shipped profiles: machines, goals, circuits and tariffs. All of them are invented."""

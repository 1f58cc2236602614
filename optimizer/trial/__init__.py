"""Trials: washes whose pieces were counted, what they say about the minutes of a dose, and the next wash."""

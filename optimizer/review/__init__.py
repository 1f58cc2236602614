"""Review: what a run's log says of the programme and of the machine."""

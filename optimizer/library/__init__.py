"""The library: what ``import optimizer`` offers, a function for each step of the job and each study."""

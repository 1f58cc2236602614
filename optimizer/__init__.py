"""scullion: choose, prove and emit the timings of a home-made dish-washing machine.

The folders follow the job: ``profile`` describes the machine and the goal, ``physics`` holds the
formulas, ``planner`` chooses the programme, ``programme`` is what it chose, ``check`` proves it on
another road, ``constants`` writes it for the controller, ``study`` ties the steps together,
``output`` lays answers out and ``cli`` prints them.
"""

__version__ = "0.1.0"

"""From bench tests to the numbers of a machine profile."""

"""Answers as one HTML file each: what a browser opens without a network, and what is printed on paper."""

"""Assignments: what is asked of whom, what was handed in, its marks, and what they say of a class."""

"""A part as drafted: its edges, marks and counts, and the changes a cutter makes to it."""

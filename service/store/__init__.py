"""What is kept: styles and their revisions, lays and their results, table maps and their checks."""

"""Files in and out: readers give (style, findings), writers give bytes or text."""

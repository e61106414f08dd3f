"""At the table: in which order to cut, window by window, what is cut, and what to do after a mis-cut."""

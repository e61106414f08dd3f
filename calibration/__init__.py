"""From photographs or tape readings to a map between table and projector. Opens no file."""

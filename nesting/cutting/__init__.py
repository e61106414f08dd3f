"""At the table: where the cloth lies after it was moved, and what is cut of what was asked."""

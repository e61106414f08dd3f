"""Pure geometry and trade rules, from drafted pieces to the cloth to buy. Opens no file, tells no time."""

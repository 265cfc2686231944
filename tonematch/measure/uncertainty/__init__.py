"""How sure a reading and a difference are, and what would settle them."""

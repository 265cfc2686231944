"""How surfaces look beside their colour: lustre, mottle, from afar, where they depart."""

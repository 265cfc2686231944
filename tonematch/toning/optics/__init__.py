"""How a coat acts on light."""

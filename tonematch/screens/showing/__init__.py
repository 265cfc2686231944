"""How words, numbers, colours and layers stand on a page."""

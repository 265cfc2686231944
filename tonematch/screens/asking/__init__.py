"""What a page asks a person for: a photograph, the card, aids, the surface, a layer."""

"""What a layer is, and what may go over what."""

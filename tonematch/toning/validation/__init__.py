"""How far the model is to be believed, and which trials are not."""

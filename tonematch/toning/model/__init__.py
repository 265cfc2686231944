"""What the layers do, learned from trials."""

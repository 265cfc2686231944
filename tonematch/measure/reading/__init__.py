"""The colour of one area, with what is known of it."""

"""One file a step, oldest first; a step that has shipped is never changed."""

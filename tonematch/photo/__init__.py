"""A file becomes a Photo: linear light in a known RGB space, with metadata and warnings."""

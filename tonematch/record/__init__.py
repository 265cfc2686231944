"""A piece's history becomes a document for the owner."""

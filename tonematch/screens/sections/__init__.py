"""Parts of pages, each with one thing to tell or to do."""

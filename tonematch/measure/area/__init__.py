"""Marked areas and their pixels."""

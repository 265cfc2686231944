"""A person's hands become calls to the rooms above (Streamlit)."""

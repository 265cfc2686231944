"""Starts the screens: ``streamlit run app.py``."""

from tonematch.screens.bench import main

main()

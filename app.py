"""The pages by themselves, for work on them: ``streamlit run app.py`` in the checkout.

At the bench ``tonematch bench`` serves them, to this start's own browser only.
"""

from tonematch.screens.bench import main

main()

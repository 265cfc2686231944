"""Who may talk to the bench, by which settings it runs, and starting it."""

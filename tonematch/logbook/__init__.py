"""Everything a gilder made becomes rows and files that last, and back."""

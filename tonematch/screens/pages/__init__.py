"""One module a page, in the order of the job."""

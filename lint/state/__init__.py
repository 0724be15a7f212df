"""``coldcheck state``: everything that was computed, as plain values, as text, as drawings."""

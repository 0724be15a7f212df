"""One module per report format; each is a function from a finished review to text."""

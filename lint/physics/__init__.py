"""Circuit equations on plain numbers in SI units; knows nothing of documents or rules."""

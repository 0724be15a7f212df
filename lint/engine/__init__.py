"""Finds rules, makes the facts they ask for, runs them, and settles what they said."""
